"""Where a moment of a take lies in its form, and back. Pure but for the take itself, of which it reads four fields."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from typing import Any, Protocol


class Timed(Protocol):
    """What is read of a `Take`."""

    played: dict[str, Any]
    tempo: int
    starts_at: float
    choruses: int


@dataclass(frozen=True, order=True)
class Spot:
    """`chorus` from 1; `bar` counts the bars of a chorus from 0, as played; `beat` in crotchets from its start."""

    chorus: int
    bar: int
    beat: float = 0.0


def bars_of(take: Timed) -> list[list[float]]:
    """[printed number, start, length, beats, unit] of every bar of a chorus; times in crotchets."""
    found: list[list[float]] = take.played.get("bars") or []
    return found


def chorus_length(take: Timed) -> float:
    """Crotchets of one chorus; 0 for a take without bars."""
    bars = bars_of(take)
    return float(bars[-1][1] + bars[-1][2]) if bars else 0.0


def moment(take: Timed, spot: Spot) -> float:
    """Seconds of the file at a spot. Raises `IndexError` for a bar that there is not."""
    start = float(bars_of(take)[spot.bar][1])
    return take.starts_at + ((spot.chorus - 1) * chorus_length(take) + start + spot.beat) * 60 / take.tempo


def spot_at(take: Timed, seconds: float) -> Spot | None:
    """The spot that sounds at a moment of the file; None before the first bar and after the last chorus."""
    length = chorus_length(take)
    crotchets = (seconds - take.starts_at) * take.tempo / 60 + 1e-6
    if not length or crotchets < 0 or crotchets >= take.choruses * length:
        return None
    chorus, within = divmod(crotchets, length)
    bar = bisect_right([row[1] for row in bars_of(take)], within) - 1
    return Spot(int(chorus) + 1, bar, round(within - float(bars_of(take)[bar][1]), 3))


def beat_in_words(beat: float, beats: float, unit: float) -> str:
    """A place inside a bar as players say it: "beat 3", "and of 3"; the nearest quaver, in the beat of the metre.

    >>> beat_in_words(2, 4, 4), beat_in_words(2.6, 4, 4), beat_in_words(1.5, 6, 8)
    ('beat 3', 'and of 3', 'beat 2')
    """
    step = 1.5 if unit == 8 and beats % 3 == 0 else 4 / unit
    count = int(beat / step + 1e-6)
    rest = beat / step - count
    if rest >= 0.75 and (count + 1) * step < beats * 4 / unit:
        count, rest = count + 1, 0.0
    return f"and of {count + 1}" if rest >= 0.25 else f"beat {count + 1}"


def spot_in_words(take: Timed, spot: Spot) -> str:
    """ "Bar 8, and of 3", with the chorus in front where there are several."""
    bars = bars_of(take)
    if spot.bar >= len(bars):
        return "Bar that is no longer there"
    number, _, _, beats, unit = bars[spot.bar]
    again = sum(1 for row in bars[: spot.bar] if row[0] == number)
    if not number:
        return f"Pickup, {beat_in_words(spot.beat, beats, unit)}"
    words = f"{int(number)}{f', time {again + 1}' if again else ''}, {beat_in_words(spot.beat, beats, unit)}"
    return f"Chorus {spot.chorus}, bar {words}" if take.choruses > 1 else f"Bar {words}"
