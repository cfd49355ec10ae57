"""Where played notes stand: from onsets and taps in seconds to bar, beat and part of the beat.

Beats lie between the taps. A note belongs to the beat that it comes at most 30 ms before: played ahead, written on it.
Within a beat the coarsest grid is taken that keeps the notes close to where they were played: each division of the
beat has a price, and notes that lie unevenly on it cost more than notes that are all a little late. This is the idea of
the quantisation described by Frieler in Pfleiderer et al. (eds.), *Inside the Jazzomat* (Schott 2017), from memory; the
prices are ours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from .warp import beat_times

AHEAD = 0.03
"""Seconds by which a note may come before the beat that it is written on."""
PRICES = {1: 0.0, 2: 0.05, 3: 0.16, 4: 0.2, 5: 0.33, 6: 0.32, 7: 0.55, 8: 0.42, 9: 0.6, 10: 0.55, 12: 0.6, 16: 0.7}
"""What a division of the beat costs, in beats of distance that it must save."""
LONE_PRICES = {1: 0.0, 2: 0.06, 3: 0.5, 4: 0.3, 5: 0.6, 6: 0.45, 8: 0.6}
"""The same for a note that is alone in its beat: a lone note is no triplet."""


@dataclass(frozen=True, slots=True)
class Tap:
    """A beat that somebody tapped: its second, bar and beat (both from 1)."""

    second: float
    bar: int
    beat: int


@dataclass(frozen=True, slots=True)
class Placed:
    """Where an onset is written.

    tick   part of the beat that has gone by.
    lean   beats that it was played before (negative) or after that place.
    sure   False where the taps lie far apart or another place is nearly as good: to be shown as a guess.
    """

    bar: int
    beat: int
    tick: Fraction
    lean: float
    sure: bool = True


def place(onsets: Sequence[float], taps: Sequence[Tap], beats: int = 4, swing: bool = False) -> tuple[Placed, ...]:
    """Every onset (seconds, in order) on bars of so many beats. At least two taps on different beats (ValueError).

    A tap at least every four bars is wanted; with less, beats are guessed from the notes. With `swing` two notes in a
    beat that stand on its first and last third are swung eighths and written as eighths; without, as a triplet with a gap.

    >>> taps = [Tap(0.0, 1, 1), Tap(2.0, 2, 1)]
    >>> [(p.beat, str(p.tick)) for p in place([0.0, 0.27, 0.49, 1.3], taps)]
    [(1, '0'), (1, '1/2'), (2, '0'), (3, '1/2')]
    """
    grid = beat_times([(tap.second, (tap.bar - 1) * beats + tap.beat - 1) for tap in taps], onsets)
    found: list[Placed] = []
    at = 0
    while at < len(onsets):
        beat = grid.beat_of(onsets[at] + AHEAD)
        last = at
        while last + 1 < len(onsets) and grid.beat_of(onsets[last + 1] + AHEAD) == beat:
            last += 1
        start, length = grid.second(beat), grid.second(beat + 1) - grid.second(beat)
        parts = [(second - start) / length for second in onsets[at : last + 1]]
        ticks, sure = _ticks(tuple(parts))
        ticks = _EIGHTHS if swing and ticks == _SWUNG else ticks
        found += [
            Placed(beat // beats + 1, beat % beats + 1, tick, part - float(tick), sure and grid.is_close(beat))
            for part, tick in zip(parts, ticks, strict=True)
        ]
        at = last + 1
    return tuple(found)


_EIGHTHS = [Fraction(0), Fraction(1, 2)]
_SWUNG = [Fraction(0), Fraction(2, 3)]
SECOND_BEST = 0.03
"""Beats by which a place must beat the next best to be sure."""


def swing_ratio(placed: Sequence[Placed]) -> float | None:
    """How long the first of two eighths in a beat was played against the second (2.0 is a triplet), the median of all
    pairs; None without a pair."""
    pairs = [(a, b) for a, b in pairwise(placed) if (a.bar, a.beat) == (b.bar, b.beat) and [a.tick, b.tick] == _EIGHTHS]
    parts = sorted(0.5 + b.lean - a.lean for a, b in pairs)
    if not parts:
        return None
    middle = min(max(parts[len(parts) // 2], 0.05), 0.95)
    return middle / (1 - middle)


def _ticks(parts: tuple[float, ...]) -> tuple[list[Fraction], bool]:
    """The places of the notes of one beat, and whether the second best is clearly worse."""
    prices = LONE_PRICES if len(parts) == 1 else PRICES
    grids = ((division, _on(parts, division)) for division in prices)
    found = sorted((fit[0] + prices[division], division, fit[1]) for division, fit in grids if fit)
    if not found:
        return [Fraction(n, len(parts)) for n in range(len(parts))], False
    rows = [(cost, [Fraction(tick, division) for tick in ticks]) for cost, division, ticks in found]
    rival = next((cost for cost, ticks in rows if ticks != rows[0][1]), None)
    return rows[0][1], rival is None or rival - rows[0][0] > SECOND_BEST


def _on(parts: tuple[float, ...], division: int) -> tuple[float, tuple[int, ...]] | None:
    """(distance and unevenness in beats, places) of the notes on a division, each on a place of its own; None if they do
    not go on it."""
    ticks = tuple(int(division * max(part, 0.0) + 0.5) for part in parts)
    if ticks[-1] >= division or len(set(ticks)) < len(ticks):
        return None
    errors = [part - tick / division for part, tick in zip(parts, ticks, strict=True)]
    size = len(errors)
    mean = sum(errors) / size
    spread = (sum((e - mean) ** 2 for e in errors) / size) ** 0.5
    return sum(map(abs, errors)) / size + spread, ticks
