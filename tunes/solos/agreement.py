"""Two people wrote the same bars down: where they agree, and where they do not. Pure.

Notes are aligned in order of time by dynamic programming; another octave, another spelling, a simpler rhythm (up to half a beat)
and a ghost note that one of the two left out are told apart from another pitch. Nothing here is a mark: what a recording
plays is settled by ear.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from tunes.solos.notes import Sounding

Kind = Literal["same", "rhythm", "octave", "spelling", "other", "missing", "extra"]
FAR = Fraction(1)
"""Quarter notes between two onsets beyond which they are not the same note."""
SIMPLER = Fraction(1, 8)
"""Quarter notes by which a place may differ and still be written the same."""
_GAP, _GHOST_GAP, _OTHER, _OCTAVE, _SPELLING = 1.0, 0.3, 1.1, 0.35, 0.05


@dataclass(frozen=True, slots=True)
class Pair:
    """One note of either side, or both: `key` as it should be, `given` as it was written."""

    kind: Kind
    key: Sounding | None
    given: Sounding | None

    @property
    def bar(self) -> int:
        """Bar of the solo, from 0."""
        note = self.key or self.given
        assert note is not None
        return note.bar


@dataclass(frozen=True, slots=True)
class Agreement:
    """Every note of both sides in order of time."""

    pairs: tuple[Pair, ...]

    @property
    def notes(self) -> int:
        """Notes of the key, ghosts aside."""
        return sum(pair.key is not None and not pair.key.ghost for pair in self.pairs)

    @property
    def agreed(self) -> int:
        """Those of them that were written with that pitch class, near that place."""
        return sum(
            pair.key is not None and not pair.key.ghost and pair.given is not None and pair.kind != "other"
            for pair in self.pairs
        )

    @property
    def differences(self) -> tuple[Pair, ...]:
        """What is not the same; a ghost note that one side leaves out is no difference."""
        return tuple(pair for pair in self.pairs if pair.kind != "same" and not _ghost_alone(pair))


def _ghost_alone(pair: Pair) -> bool:
    lone = pair.key if pair.given is None else pair.given if pair.key is None else None
    return lone is not None and lone.ghost


def compare(key: Sequence[Sounding], given: Sequence[Sounding]) -> Agreement:
    """Align two versions of the same bars; both in order of time and in concert pitch."""
    rows, columns = len(key), len(given)
    costs = [[0.0] * (columns + 1) for _ in range(rows + 1)]
    for i in range(rows - 1, -1, -1):
        costs[i][columns] = costs[i + 1][columns] + _gap(key[i])
    for j in range(columns - 1, -1, -1):
        costs[rows][j] = costs[rows][j + 1] + _gap(given[j])
    times = [float(note.onset) for note in given]
    gaps = [_gap(note) for note in given]
    for i in range(rows - 1, -1, -1):
        own, at, below, here = _gap(key[i]), float(key[i].onset), costs[i + 1], costs[i]
        for j in range(columns - 1, -1, -1):
            best = min(below[j] + own, here[j + 1] + gaps[j])
            here[j] = min(best, below[j + 1] + _match(key[i], given[j])) if abs(times[j] - at) <= FAR else best
    return Agreement(tuple(_walk(key, given, costs)))


def _walk(key: Sequence[Sounding], given: Sequence[Sounding], costs: list[list[float]]) -> list[Pair]:
    found: list[Pair] = []
    i = j = 0
    while i < len(key) or j < len(given):
        both = i < len(key) and j < len(given)
        if both and costs[i][j] == costs[i + 1][j + 1] + _match(key[i], given[j]):
            found.append(Pair(_kind(key[i], given[j]), key[i], given[j]))
            i, j = i + 1, j + 1
        elif i < len(key) and costs[i][j] == costs[i + 1][j] + _gap(key[i]):
            found.append(Pair("missing", key[i], None))
            i += 1
        else:
            found.append(Pair("extra", None, given[j]))
            j += 1
    return found


def _gap(note: Sounding) -> float:
    return _GHOST_GAP if note.ghost else _GAP


def _match(one: Sounding, other: Sounding) -> float:
    apart = abs(one.onset - other.onset)
    if apart > FAR:
        return 10.0**6
    cost = float(apart) * 0.6
    if one.pitch == other.pitch:
        return cost
    if one.pitch.midi == other.pitch.midi:
        return cost + _SPELLING
    return cost + (_OCTAVE if one.pitch.name.pc == other.pitch.name.pc else _OTHER)


def _kind(key: Sounding, given: Sounding) -> Kind:
    if key.pitch.name.pc != given.pitch.name.pc:
        return "other"
    if key.pitch.midi != given.pitch.midi:
        return "octave"
    if abs(key.onset - given.onset) > SIMPLER:
        return "rhythm"
    return "same" if key.pitch == given.pitch else "spelling"
