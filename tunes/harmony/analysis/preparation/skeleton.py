"""From chords to the skeleton of a reading: home key, last tonic, and the goal of every chord.

The form is cyclic: chords after the last tonic lead back to the top, and a tune that never rests at its end
leads to its first tonic.  So the chords up to the last tonic are parsed as one phrase that ends there, and
those after it as another that ends on the first chord of the next chorus.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tunes.harmony.analysis.home_key.home import MAJOR, MINOR, weigh_keys
from tunes.harmony.analysis.home_key.mode import own_mode
from tunes.harmony.analysis.preparation.grammar import Node, nodes_of
from tunes.harmony.analysis.preparation.parser import Parse, parse
from tunes.harmony.analysis.relations import (
    BACKDOOR,
    CHROMATIC_II,
    FIFTH,
    HOLD,
    OTHER,
    RECOLOUR,
    SUPERTONIC,
    TRITONE,
    relation,
)
from tunes.harmony.analysis.sounds import DIM, DOM, HALF, MAJ, MIN, STABLE, SUS, Sound, Stretch, stretches

_LONGEST_TAIL_BARS = 4.0
_UNSURE = 0.6
"""A choice of goal that is no surer than this is open."""
TOP = -1
"""Stands for the first chord of the next chorus, as a goal."""


@dataclass(frozen=True)
class Skeleton:
    """The chords as stretches, the home key as (tonic, mode), and for every stretch:

    heads    the stretch it holds on to or prepares, TOP for the next chorus, None for a last tonic;
    goals    the stretch it resolves to once its own repetitions are passed over (TOP, or None at rest);
    moves    the relation by which it gets there ("" at rest);
    sure     how probable the choice of head is, against `rival`, the next best.
    """

    chords: tuple[Stretch, ...]
    beats: float
    home: tuple[int, str]
    keys: tuple[tuple[float, int, str], ...]
    last_tonic: int | None
    heads: tuple[int | None, ...]
    goals: tuple[int | None, ...]
    moves: tuple[str, ...]
    sure: tuple[float, ...]
    rival: tuple[int | None, ...]

    def goal_chord(self, index: int) -> Stretch | None:
        """The stretch that `index` resolves to."""
        goal = self.goals[index]
        return None if goal is None else self.chords[0 if goal == TOP else goal]


def skeleton(sounds: Sequence[Sound], beats: float, home: tuple[int, str] | None = None) -> Skeleton | None:
    """The skeleton of a chorus, or None when no chord sounds. `home` fixes the home key."""
    chords = stretches(sounds)
    if not chords:
        return None
    keys = weigh_keys(chords, beats)
    tonic, mode = home or vamp_home(chords) or (keys[0][1], own_mode(chords, keys[0][1], keys[0][2]))
    last = last_tonic(chords, tonic, mode, beats)
    heads, sure, rival = _parse_form(chords, tonic, mode, last, beats)
    goals, moves = _goals(chords, heads)
    _falls_at_once(chords, goals, moves)
    _slips_at_once(chords, goals, moves, sure)
    _sliding_diminished(chords, goals, moves)
    _two_at_once(chords, goals, moves)
    _narrow_at_once(chords, goals, moves)
    _past_a_slide(chords, tonic, goals, moves)
    _tonics_turned_dominant(chords, (tonic, mode), goals, moves)
    return Skeleton(
        tuple(chords), beats, (tonic, mode), tuple(keys), last,
        tuple(heads), tuple(goals), tuple(moves), tuple(sure), tuple(rival),
    )  # fmt: skip


_VAMPS = frozenset({(MIN, 5, DOM), (DOM, 10, MAJ), (MIN, 1, MAJ), (MAJ, 2, MAJ)})
"""First chord, and second chord that many semitones above it: Dorian i-IV7, Mixolydian I7-bVII, Phrygian i-bII,
Lydian I-II (common practice, no single source)."""


def vamp_home(chords: Sequence[Stretch]) -> tuple[int, str] | None:
    """The home key of a form that is one modal vamp from end to end: its first chord; None for any other form."""
    if len(chords) < 4:
        return None
    first, second = chords[0], chords[1]
    pair = (first.cls, (second.root - first.root) % 12, second.cls)
    sounds = {(chord.root, chord.cls) for chord in chords}
    if pair not in _VAMPS or sounds != {(first.root, first.cls), (second.root, second.cls)}:
        return None
    return first.root, MINOR if first.cls == MIN else MAJOR


def rests_on(chord: Stretch, tonic: int, mode: str) -> int:
    """How well a chord serves as the final tonic: 2 in its own mode, 1 in the other (or as a blues seventh), 0."""
    if chord.root != tonic or chord.cls not in (MAJ, MIN, DOM):
        return 0
    return 2 if (chord.cls == MIN) == (mode == MINOR) and chord.cls != DOM else 1


def last_tonic(chords: Sequence[Stretch], tonic: int, mode: str, beats: float) -> int | None:
    """The stretch on which the chorus comes to rest, when it is near the end."""
    end = chords[-1].onset + chords[-1].duration
    for index in range(len(chords) - 1, -1, -1):
        chord = chords[index]
        if rests_on(chord, tonic, mode) and index:
            close = end - chord.onset - chord.duration <= _LONGEST_TAIL_BARS * beats
            return index if close else None
    return 0 if len(chords) == 1 else None


def _parse_form(
    chords: Sequence[Stretch], tonic: int, mode: str, last: int | None, beats: float
) -> tuple[list[int | None], list[float], list[int | None]]:
    """Heads over the whole chorus, with their probabilities and rivals."""
    stop = len(chords) if last is None else last + 1
    body = list(chords[:stop])
    if last is None:
        body.append(_ending(chords, tonic, mode, beats))
    main = parse(nodes_of(body, tonic, beats))
    heads, rival = _local(main, stop, 0)
    sure = main.sure[:stop]
    if stop < len(chords):
        tail = parse(_tail_nodes(chords, stop, tonic, beats))
        more, other = _local(tail, len(chords) - stop, stop)
        heads, rival, sure = heads + more, rival + other, sure + tail.sure[: len(chords) - stop]
    return heads, sure, rival


def _local(found: Parse, count: int, shift: int) -> tuple[list[int | None], list[int | None]]:
    """Heads and rivals as indices of the chorus; the added last node is TOP."""

    def place(goal: int | None) -> int | None:
        return None if goal is None else TOP if goal >= count else goal + shift

    return [place(h) for h in found.heads[:count]], [place(r) for r in found.rival[:count]]


def _ending(chords: Sequence[Stretch], tonic: int, mode: str, beats: float) -> Stretch:
    """The tonic of the next chorus."""
    end = chords[-1].onset + chords[-1].duration
    return Stretch(tonic, MIN if mode == MINOR else MAJ, "", end, beats, TOP, TOP)


def _tail_nodes(chords: Sequence[Stretch], stop: int, tonic: int, beats: float) -> list[Node]:
    """The chords after the last tonic and the first of the next chorus; `arrived` sees the tonic before them."""
    end = chords[-1].onset + chords[-1].duration
    after = chords[0]._replace(onset=end)
    return nodes_of([*chords[stop - 1 :], after], tonic, beats)[1:]


def _goals(chords: Sequence[Stretch], heads: Sequence[int | None]) -> tuple[list[int | None], list[str]]:
    """Where each stretch resolves when its own repetitions are passed over, and how."""
    goals: list[int | None] = [None] * len(chords)
    moves = [""] * len(chords)
    for index in range(len(chords) - 1, -1, -1):
        head = heads[index]
        if head is None:
            continue
        chord, goal = chords[index], chords[0 if head == TOP else head]
        kind = relation((goal.root - chord.root) % 12, chord.cls, goal.cls)
        if kind in (HOLD, RECOLOUR):
            if head != TOP:
                goals[index], moves[index] = goals[head], _own_move(chords, chord, goals[head], moves[head])
        else:
            goals[index], moves[index] = head, kind
    return goals, moves


def by_rival(bones: Skeleton, index: int) -> Skeleton | None:
    """The skeleton with the second most probable goal of one stretch; None when there is none that differs."""
    rival = bones.rival[index]
    if rival is None:
        return None
    chord, target = bones.chords[index], bones.chords[0 if rival == TOP else rival]
    goal: int | None = rival
    move = relation((target.root - chord.root) % 12, chord.cls, target.cls)
    if move in (HOLD, RECOLOUR):
        goal = None if rival == TOP else bones.goals[rival]
        move = "" if goal is None else _own_move(bones.chords, chord, goal, move)
    if goal == bones.goals[index]:
        return None
    goals, moves = list(bones.goals), list(bones.moves)
    goals[index], moves[index] = goal, move
    return replace(bones, goals=tuple(goals), moves=tuple(moves))


def _own_move(chords: Sequence[Stretch], chord: Stretch, goal: int | None, move: str) -> str:
    """How a chord that changes colour on its way reaches the goal of its later self: by its own class."""
    if goal is None:
        return move
    target = chords[0 if goal == TOP else goal]
    return relation((target.root - chord.root) % 12, chord.cls, target.cls)


def _tonics_turned_dominant(
    chords: Sequence[Stretch], home: tuple[int, str], goals: list[int | None], moves: list[str]
) -> None:
    """The tonic as a dominant seventh that leads to 4: before iv in a minor key, or with its own ii before it."""
    for index in range(len(chords) - 1):
        chord, after = chords[index], chords[index + 1]
        if chord.root != home[0] or chord.cls != DOM or (after.root - chord.root) % 12 != 5:
            continue
        before = chords[index - 1] if index else None
        own_two = before is not None and before.cls in (MIN, HALF) and (chord.root - before.root) % 12 == 5
        if own_two or (home[1] == MINOR and after.cls == MIN and goals[index] is None):
            goals[index], moves[index] = index + 1, FIFTH
            if own_two:
                goals[index - 1], moves[index - 1] = index, SUPERTONIC


def _falls_at_once(chords: Sequence[Stretch], goals: list[int | None], moves: list[str]) -> None:
    """A dominant followed by the chord it promises has resolved, whatever comes later: when that chord is held as long
    as the dominant was and is not on its way itself, or when what comes later is only the same root again."""
    for index in range(len(chords) - 1):
        chord, after = chords[index], chords[index + 1]
        if chord.cls not in (DOM, SUS) or goals[index] in (None, index + 1) or (after.root - chord.root) % 12 != 5:
            continue
        own_five = index + 2 < len(chords) and (chords[index + 2].root - after.root) % 12 == 5
        far = chords[max(goals[index] or 0, 0)]
        held = not own_five and after.duration >= chord.duration
        if after.cls in (MAJ, MIN) and (held or far.root == after.root):
            goals[index], moves[index] = index + 1, FIFTH


def _slips_at_once(
    chords: Sequence[Stretch], goals: list[int | None], moves: list[str], sure: Sequence[float]
) -> None:
    """A dominant seventh before a chord at rest a semitone below resolves there, unless the grammar is sure of another
    goal."""
    for index in range(len(chords) - 1):
        chord, after = chords[index], chords[index + 1]
        if chord.cls != DOM or goals[index] in (None, index + 1) or sure[index] > _UNSURE:
            continue
        if (chord.root - after.root) % 12 == 1 and after.cls in (MAJ, MIN):
            goals[index], moves[index] = index + 1, TRITONE


def _sliding_diminished(chords: Sequence[Stretch], goals: list[int | None], moves: list[str]) -> None:
    """A diminished chord between two roots a semitone above and below it slides on; it is no dominant."""
    for index in range(1, len(chords) - 1):
        before, chord, after = chords[index - 1 : index + 2]
        falls = (before.root - chord.root) % 12 == 1 and (chord.root - after.root) % 12 == 1
        if chord.cls == DIM and falls:
            goals[index], moves[index] = index + 1, OTHER


def _two_at_once(chords: Sequence[Stretch], goals: list[int | None], moves: list[str]) -> None:
    """A ii followed by the substitute of its dominant has reached it, whatever dominant comes later."""
    for index in range(len(chords) - 1):
        chord, after = chords[index], chords[index + 1]
        if chord.cls not in (MIN, HALF) or after.cls != DOM or goals[index] in (None, index + 1):
            continue
        if (chord.root - after.root) % 12 == 1 and moves[index + 1] == TRITONE and moves[index] == SUPERTONIC:
            goals[index], moves[index] = index + 1, CHROMATIC_II


def _narrow_at_once(chords: Sequence[Stretch], goals: list[int | None], moves: list[str]) -> None:
    """A major chord before the half diminished ii a diminished fifth below goes to it in the circle, not past it."""
    for index in range(len(chords) - 1):
        chord, after = chords[index], chords[index + 1]
        if chord.cls != MAJ or after.cls != HALF or goals[index] in (None, index + 1):
            continue
        if (chord.root - after.root) % 12 == 6 and moves[index + 1] == SUPERTONIC and goals[index] == goals[index + 1]:
            goals[index], moves[index] = index + 1, OTHER


def _past_a_slide(chords: Sequence[Stretch], tonic: int, goals: list[int | None], moves: list[str]) -> None:
    """A minor chord in the middle of a slide by semitones is nobody's goal from further off: the dominant on flat
    seven that seems to aim at it goes home by the back door."""
    for index, goal in enumerate(goals):
        if goal is None or goal == TOP or not index + 1 < goal < len(chords) - 1:
            continue
        run = chords[goal - 1 : goal + 2]
        slides = all(x.cls == MIN for x in run) and run[0].root - run[1].root in (1, -11) and run[1].root - run[2].root in (1, -11)
        if not slides or chords[index].cls != DOM or (chords[index].root - tonic) % 12 != 10:
            continue
        rests = (x for x in range(goal + 1, len(chords)) if chords[x].root == tonic and chords[x].cls in STABLE)
        home = next(rests, None)
        if home is not None:
            goals[index], moves[index] = home, BACKDOOR
