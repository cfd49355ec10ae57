"""One chord where it stands: everything that the naming of functions looks at, worked out once.

All in semitones above the local tonic.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from .areas import KeyPc
from .home import MINOR
from .preparation import TOP, Skeleton
from .relations import BACKDOOR, CHROMATIC_II, FIFTH, LEADING, SUPERTONIC, TRITONE
from .sounds import DIM, DOM, DOMINANTS, HALF, MAJ, MIN, STABLE, Stretch


class Place(NamedTuple):
    """One chord where it stands: itself, its key, its goal and how it gets there, and the neighbours."""

    degree: int
    cls: str
    quality: str
    mode: str
    move: str
    goal: Stretch | None
    goal_degree: int
    direct: bool
    before: Stretch | None
    after: Stretch | None
    tonic: int
    arrived: bool
    ahead: int | None  # what the goal promises, for a ii: semitones above the tonic
    ahead_minor: bool
    ahead_sub: bool  # the goal is a tritone substitute
    ahead_back: bool  # the goal goes home by the back door
    blues: bool
    has_ii: bool
    sure: float  # of its goal, as the grammar sees it
    sliding: bool  # the first of three chords on 3, flat 3, 2
    neighbour: bool  # between two chords of the same root at rest on the tonic
    after_prepares: bool  # the next chord is the ii of a dominant
    at_home: bool  # the key is that of the tune
    vamp: bool  # one of two chords that go back and forth, the other or itself being the tonic of the key


def place(bones: Skeleton, index: int, chord: Stretch, key: KeyPc, blues: bool) -> Place:
    """Everything the naming looks at. `chord` may be one event of the stretch, with its own quality."""
    goal = bones.goal_chord(index)
    at = bones.goals[index]
    tonic = key[0]
    ahead, minor, back = _ahead(bones, at, tonic)
    return Place(
        (chord.root - tonic) % 12, chord.cls, chord.quality, key[1], bones.moves[index], goal,
        (goal.root - tonic) % 12 if goal else 0,
        at == index + 1 or (at == TOP and index == len(bones.chords) - 1),
        bones.chords[index - 1] if index else None,
        bones.chords[index + 1] if index + 1 < len(bones.chords) else None,
        tonic, _arrived(bones, index), ahead, minor,
        at is not None and at != TOP and bones.moves[at] == TRITONE, back, blues,
        index > 0 and bones.goals[index - 1] == index and bones.moves[index - 1] in (SUPERTONIC, CHROMATIC_II),
        bones.sure[index], _sliding(bones, index, tonic), _neighbour(bones, index, tonic),
        index + 1 < len(bones.chords) and bones.moves[index + 1] in (SUPERTONIC, CHROMATIC_II),
        key == bones.home, _vamps(bones, index, key),
    )  # fmt: skip


def _sliding(bones: Skeleton, index: int, tonic: int) -> bool:
    """Whether 3, flat 3 (minor or diminished) and 2 follow each other from here, all minor in sound."""
    run = bones.chords[index : index + 3]
    degrees = [(chord.root - tonic) % 12 for chord in run]
    return degrees == [4, 3, 2] and run[0].cls == run[2].cls == MIN and run[1].cls in (MIN, DIM)


def _neighbour(bones: Skeleton, index: int, tonic: int) -> bool:
    """Whether the chord stands between two chords on the tonic that are at rest."""
    if not 0 < index < len(bones.chords) - 1:
        return False
    before, after = bones.chords[index - 1], bones.chords[index + 1]
    return before.root == after.root == tonic and before.cls == after.cls and before.cls in STABLE


def _vamps(bones: Skeleton, index: int, key: KeyPc) -> bool:
    """Whether two chords alternate here at least twice each, one of them the tonic in its own mode."""
    for start in range(max(0, index - 3), index + 1):
        run = bones.chords[start : start + 4]
        if len(run) < 4 or any((a.root, a.cls) != (b.root, b.cls) for a, b in zip(run, run[2:], strict=False)):
            continue
        if run[0].root != run[1].root and (any(_is_tonic(chord, key) for chord in run[:2]) or _mixolydian(run, key)):
            return True
    return False


def _mixolydian(run: Sequence[Stretch], key: KeyPc) -> bool:
    """Whether a pair is 1 with its flat 7 and the major chord a tone below."""
    one, other = run[:2] if run[0].root == key[0] else (run[1], run[0])
    return one.root == key[0] and one.cls == DOM and other.cls == MAJ and (other.root - one.root) % 12 == 10


def _is_tonic(chord: Stretch, key: KeyPc) -> bool:
    return chord.root == key[0] and chord.cls == (MIN if key[1] == MINOR else MAJ)


def _arrived(bones: Skeleton, index: int) -> bool:
    """Whether the chord before leads here by a dominant move."""
    return index > 0 and bones.goals[index - 1] == index and bones.moves[index - 1] in (FIFTH, TRITONE, LEADING, BACKDOOR)


def _ahead(bones: Skeleton, goal: int | None, tonic: int) -> tuple[int | None, bool, bool]:
    """Where the goal, a dominant, leads: its own goal, or the root a fifth below that it promises."""
    if goal is None or goal == TOP or bones.chords[goal].cls not in DOMINANTS:
        return None, False, False
    chord, further = bones.chords[goal], bones.goal_chord(goal)
    move = bones.moves[goal]
    if further is not None and move in (FIFTH, TRITONE):
        return (further.root - tonic) % 12, further.cls in (MIN, HALF), False
    return (chord.root + 5 - tonic) % 12, False, move == BACKDOOR and further is not None and further.root == tonic
