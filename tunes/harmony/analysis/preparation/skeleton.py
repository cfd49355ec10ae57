"""From chords to the skeleton of a reading: home key, last tonic, and the goal of every chord.

The form is cyclic: chords after the last tonic lead back to the top, and a tune that never rests at its end
leads to its first tonic.  So the chords up to the last tonic are parsed as one phrase that ends there, and
those after it as another that ends on the first chord of the next chorus.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tunes.harmony.analysis.home_key.home import MAJOR, MINOR, weigh_keys
from tunes.harmony.analysis.home_key.mode import own_mode
from tunes.harmony.analysis.preparation.grammar import Node, nodes_of
from tunes.harmony.analysis.preparation.parser import Parse, parse
from tunes.harmony.analysis.relations import (
    HOLD,
    RECOLOUR,
    relation,
)
from tunes.harmony.analysis.sounds import DOM, HALF, MAJ, MIN, SUS, Sound, Stretch, stretches

_LONGEST_TAIL_BARS = 4.0
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

    def with_goals(self, goals: Sequence[int | None], moves: Sequence[str]) -> Skeleton:
        """The same with other goals; itself when they are no others. (Said field by field: `replace` takes ten times as long.)"""
        now, how = tuple(goals), tuple(moves)
        if now == self.goals and how == self.moves:
            return self
        return Skeleton(
            self.chords, self.beats, self.home, self.keys, self.last_tonic, self.heads, now, how, self.sure, self.rival
        )


def skeleton(
    sounds: Sequence[Sound], beats: float, home: tuple[int, str] | None = None, typed: tuple[int, str] | None = None
) -> Skeleton | None:
    """The skeleton of a chorus as the grammar reads it, or None when no chord sounds. `home` fixes the home key; `typed`, the key
    that a chart states, is evidence for it."""
    chords = stretches(sounds)
    if not chords:
        return None
    keys = weigh_keys(chords, beats, typed)
    tonic, mode = home or vamp_home(chords, typed) or (keys[0][1], own_mode(chords, keys[0][1], keys[0][2]))
    last = last_tonic(chords, tonic, mode, beats)
    heads, sure, rival = _parse_form(chords, tonic, mode, last, beats)
    goals, moves = _goals(chords, heads)
    return Skeleton(
        tuple(chords), beats, (tonic, mode), tuple(keys), last,
        tuple(heads), tuple(goals), tuple(moves), tuple(sure), tuple(rival),
    )  # fmt: skip


_VAMPS = frozenset({(MIN, 5, DOM), (DOM, 10, MAJ), (MIN, 1, MAJ), (MAJ, 2, MAJ)})
"""First chord, and second chord that many semitones above it: Dorian i-IV7, Mixolydian I7-bVII, Phrygian i-bII,
Lydian I-II (common practice, no single source)."""


def vamp_home(chords: Sequence[Stretch], typed: tuple[int, str] | None = None) -> tuple[int, str] | None:
    """The home key of a form that is one modal vamp, or all suspended chords, from end to end: its first chord; None for any
    other form. Suspended chords have no mode: that of the key that is typed, else major."""
    if len(chords) < 4:
        return None
    first, second = chords[0], chords[1]
    if first.cls == SUS and sum(chord.cls != SUS for chord in chords) * 4 <= len(chords):
        return typed if typed is not None and typed[0] == first.root else (first.root, MAJOR)
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
        if rests_on(chord, tonic, mode) and index and not _sets_out(chords, index, mode):
            close = end - chord.onset - chord.duration <= _LONGEST_TAIL_BARS * beats
            return index if close else None
    return 0 if len(chords) == 1 else None


def _sets_out(chords: Sequence[Stretch], index: int, mode: str) -> bool:
    """Whether a chord on the tonic sets out at once: 1 minor as the 2 of the dominant after it in a major key, another dominant
    between them or not, or 1 as a seventh with its own 2 before it (common practice, no source)."""
    chord, before = chords[index], chords[index - 1]
    after, then = (chords[(index + step) % len(chords)] for step in (1, 2))
    if mode != MAJOR:
        return False
    if chord.cls == DOM:
        own_two = before.cls in (MIN, HALF) and (chord.root - before.root) % 12 == 5
        return own_two and (after.root - chord.root) % 12 == 5
    five = (chord.root + 5) % 12
    to_its_five = after.cls in (DOM, SUS) and (after.root == five or (then.cls in (DOM, SUS) and then.root == five))
    return chord.cls == MIN and to_its_five


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
    return bones.with_goals(goals, moves)


def _own_move(chords: Sequence[Stretch], chord: Stretch, goal: int | None, move: str) -> str:
    """How a chord that changes colour on its way reaches the goal of its later self: by its own class."""
    if goal is None:
        return move
    target = chords[0 if goal == TOP else goal]
    return relation((target.root - chord.root) % 12, chord.cls, target.cls)
