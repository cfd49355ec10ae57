"""What the chords say of keys before any is weighed: where dominants lead, and which chords are a centre of their own."""

from __future__ import annotations

from typing import NamedTuple

from tunes.harmony.analysis.home_key.home import MINOR
from tunes.harmony.analysis.key_areas.cadences import (
    KeyPc,
    cadence_cells,
    confirmed,
    in_sequence,
    insisted,
    key_of,
    turnarounds,
)
from tunes.harmony.analysis.key_areas.tables import (
    DIATONIC,
    SECTION_BARS,
    TONIC_SOUNDS,
)  # fmt: skip
from tunes.harmony.analysis.preparation.skeleton import TOP, Skeleton
from tunes.harmony.analysis.relations import DOMINANT_MOVES, FIFTH, SUPERTONIC_MOVES
from tunes.harmony.analysis.sounds import DOM, DOMINANTS, MAJ, MIN, STABLE, SUS, Stretch

SPLIT_MOVES = DOMINANT_MOVES | SUPERTONIC_MOVES


def served_key(bones: Skeleton, index: int) -> KeyPc | None:
    """The key of the chord at rest that a dominant, or a ii through its dominant, leads to; else None."""
    if bones.moves[index] in SUPERTONIC_MOVES:
        goal = bones.goals[index]
        return served_key(bones, goal) if goal is not None and goal != TOP else None
    chord = bones.goal_chord(index)
    if chord is None or bones.moves[index] not in DOMINANT_MOVES:
        return None
    if chord.cls not in STABLE:
        at_home = (
            chord.cls == SUS and chord.root == bones.home[0] and bones.goals[max(bones.goals[index] or 0, 0)] is None
        )
        return bones.home if at_home else None
    return None if moves_on_as_two(bones, index) else key_of(chord)


def moves_on_as_two(bones: Skeleton, index: int) -> bool:
    """Whether the goal is a minor chord that is at once somebody's ii: it is no place of rest."""
    goal = bones.goals[index]
    if goal is None or goal == TOP or bones.chords[goal].cls != MIN or bones.moves[goal] not in SUPERTONIC_MOVES:
        return False
    return bones.chords[goal].duration <= bones.beats


def pivots(bones: Skeleton, index: int) -> bool:
    """Whether a dominant without a 2 of its own falls a fifth to the next chord, a minor one that is at once the 2 of the dominant
    after it; a whole 2 5 before another is heard with it, as a run."""
    own_two = index > 0 and bones.goals[index - 1] == index and bones.moves[index - 1] in SUPERTONIC_MOVES
    near = bones.goals[index] == index + 1 and bones.goals[index + 1] == index + 2
    return near and not own_two and bones.moves[index] == FIFTH and moves_on_as_two(bones, index)


def run_ends(bones: Skeleton) -> list[KeyPc | None]:
    """For every stretch of a run of dominants and their iis, the key of the chord at rest on which the run ends."""
    found: list[KeyPc | None] = [None] * len(bones.chords)
    for index in range(len(bones.chords) - 1, -1, -1):
        goal = bones.goals[index]
        if goal is None or bones.moves[index] not in SPLIT_MOVES:
            continue
        if goal == TOP:
            found[index] = key_of(bones.chords[0])
        elif goal > index:
            at = bones.chords[goal]
            found[index] = found[goal] if bones.moves[goal] in SPLIT_MOVES else key_of(at) if at.cls in STABLE else None
    return found


def tonicised(bones: Skeleton) -> frozenset[int]:
    """The stretches at rest that some dominant leads to."""
    return frozenset(
        goal
        for index, goal in enumerate(bones.goals)
        if goal is not None and goal != TOP and bones.moves[index] in DOMINANT_MOVES
        and bones.chords[goal].cls in STABLE
    )  # fmt: skip


def settled(bones: Skeleton) -> frozenset[int]:
    """The chords that are a centre of their own: a minor triad or sixth held for three bars, to which its dominant has led, and a
    major seventh of two bars that turns into the 2 of the key a tone below, as keys that fall by tones do."""
    found: set[int] = set()
    chords, tonic = bones.chords, bones.home[0]
    of_home = (
        {0, 5} if bones.home[1] == MINOR else {0, 2}
    )  # its own 1, 2 and 4 minor are nothing new when they are held
    for index in range(1, len(chords) - 1):
        chord, before, degree = chords[index], chords[index - 1], (chords[index].root - tonic) % 12
        led = before.cls in DOMINANTS and bones.goals[index - 1] == index and bones.moves[index - 1] in DOMINANT_MOVES
        held = chord.quality in ("m", *TONIC_SOUNDS) and chord.duration >= _CENTRE_BARS * bones.beats
        if led and held and degree not in of_home:
            found.add(index)
        if (led or degree not in (0, 5)) and _falls_by_tone(bones, index):
            found.add(index)
        if _opens_a_section(bones, index):
            found.add(index)
        found |= _opens_and_comes_back(bones, index)
    return frozenset(found)


def _opens_and_comes_back(bones: Skeleton, index: int) -> set[int]:
    """The soundings of a chord that opens eight bars and is confirmed by its own 5 before they are over, among chords of its own
    key alone, one of them foreign to home: a bridge in that key."""
    chord, key, home = bones.chords[index], key_of(bones.chords[index]), bones.home
    onset = chord.onset / bones.beats
    if not onset or onset % _SECTION_LINE >= _EPSILON or chord.cls not in STABLE or chord.root == home[0]:
        return set()
    soundings, foreign = [index], False
    for at in range(index + 1, len(bones.chords)):
        other = bones.chords[at]
        span = (other.onset - chord.onset) / bones.beats
        if span >= _SECTION_LINE or not _belongs(other, key):
            break
        foreign = foreign or not _belongs(other, home)
        if (other.root, other.cls) == (chord.root, chord.cls):
            soundings.append(at)
            led = bones.goals[at - 1] == at and bones.moves[at - 1] == FIFTH
            if led and foreign and span >= _CONFIRMED_AFTER:
                return set(soundings)
    return set()


def _belongs(chord: Stretch, key: KeyPc) -> bool:
    return ((chord.root - key[0]) % 12, chord.cls) in DIATONIC[key[1]]


def _opens_a_section(bones: Skeleton, index: int) -> bool:
    """Whether a major seventh or sixth that is no chord of home in either mode stands for two bars where eight bars begin: a
    bridge that sets in on another key, without a cadence."""
    chord = bones.chords[index]
    on_the_line = chord.onset / bones.beats % _SECTION_LINE < _EPSILON
    long = chord.quality in ("maj7", "6") and chord.duration >= _TURNING_BARS * bones.beats
    beside_home = bones.chords[index + 1].root == bones.home[0]  # goes to and fro with it
    return on_the_line and long and not beside_home and (chord.root - bones.home[0]) % 12 not in _OPEN_TO_HOME


def _falls_by_tone(bones: Skeleton, index: int) -> bool:
    """Whether a major seventh or sixth of two bars turns minor and goes on by its 5 to the major chord a tone below."""
    chord, run = bones.chords[index], bones.chords[index + 1 : index + 4]
    steps = [((other.root - chord.root) % 12, other.cls) for other in run]
    long = chord.quality in ("maj7", "6") and chord.duration >= _TURNING_BARS * bones.beats
    return long and steps == [(0, MIN), (5, DOM), (10, MAJ)]


_CENTRE_BARS, _TURNING_BARS, _SECTION_LINE, _CONFIRMED_AFTER, _EPSILON = 3.0, 2.0, 8.0, 4.0, 0.01
_OPEN_TO_HOME = frozenset({0, 2, 3, 5, 7, 8, 10})
"""Degrees on which a major chord belongs to home in one of its modes, 2 as its Lydian or 5 of 5."""


class Clues(NamedTuple):
    """What the chords say of keys before any is weighed; lists are by stretch."""

    cells: dict[int, KeyPc]
    served: list[KeyPc | None]
    rests: frozenset[int]
    own: frozenset[int]  # the ii and V of cadences that make a key of their own
    ends: list[KeyPc | None]
    rounds: dict[int, KeyPc]  # the 1 and the 5 of turnarounds
    settled: frozenset[int]  # chords that are a centre of their own, whatever they go on to


def clues_of(bones: Skeleton) -> Clues:
    cells = cadence_cells(bones)
    served = [cells.get(index) or served_key(bones, index) for index in range(len(bones.chords))]
    own = insisted(bones, cells) | in_sequence(bones, cells) | confirmed(bones, cells)
    return Clues(cells, served, tonicised(bones), own, run_ends(bones), turnarounds(bones), settled(bones))


def fills_a_section(bones: Skeleton, index: int) -> bool:
    """Whether one minor chord is held so long that it is a centre of its own, as in a modal bridge."""
    chord = bones.chords[index]
    return chord.cls == MIN and chord.duration >= SECTION_BARS * bones.beats
