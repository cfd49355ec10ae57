"""Where every bar of every chorus lies in a recording, from the few moments somebody tapped. Pure.

A moment is `(chorus, bar, seconds)`, both counted from 1. Between two moments bars are taken to be equally
long; after the last one, as long as the bars before it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise


@dataclass(frozen=True, order=True)
class Moment:
    """A tapped bar line. `label` is the section's letter, "" inside a section."""

    chorus: int
    bar: int
    seconds: float
    label: str = ""

    def index(self, bars: int) -> int:
        """Bars since the first bar of the first chorus."""
        return (self.chorus - 1) * bars + self.bar - 1


class FormMapProblem(ValueError):
    """Moments that no recording can have; the message names the first one that is wrong."""


def checked(moments: Iterable[Moment], bars: int, duration: float | None = None) -> tuple[Moment, ...]:
    """Moments in order of the form. Raises `FormMapProblem` where time runs backwards or a bar does not exist."""
    ordered = sorted(moments, key=lambda m: (m.chorus, m.bar))
    for moment in ordered:
        if not 1 <= moment.chorus <= 200 or not 1 <= moment.bar <= max(bars, 1):
            raise FormMapProblem(f"Chorus {moment.chorus} has no bar {moment.bar}: a chorus has {bars} bars.")
        if moment.seconds < 0 or (duration is not None and moment.seconds > duration + 1):
            raise FormMapProblem(f"Chorus {moment.chorus}, bar {moment.bar} lies outside the recording.")
    for one, two in pairwise(ordered):
        if (one.chorus, one.bar) == (two.chorus, two.bar):
            raise FormMapProblem(f"Chorus {one.chorus}, bar {one.bar} is marked twice.")
        if two.seconds <= one.seconds:
            raise FormMapProblem(
                f"Chorus {two.chorus}, bar {two.bar} is marked before chorus {one.chorus}, bar {one.bar}. "
                "Delete one of the two marks."
            )
    return tuple(ordered)


def bar_times(moments: Sequence[Moment], bars: int, duration: float | None = None) -> list[list[float]]:
    """Seconds of every bar line: one list of `bars` times a chorus, bars before the first moment at its start.

    >>> bar_times([Moment(1, 1, 10.0), Moment(2, 1, 14.0)], 4)
    [[10.0, 11.0, 12.0, 13.0], [14.0, 15.0, 16.0, 17.0]]
    """
    if bars < 1 or not moments:
        return []
    ordered = checked(moments, bars)
    last_chorus = ordered[-1].chorus
    return [
        [round(_at(ordered, (chorus - 1) * bars + bar, bars, duration), 3) for bar in range(bars)]
        for chorus in range(1, last_chorus + 1)
    ]


def _at(ordered: Sequence[Moment], index: int, bars: int, duration: float | None) -> float:
    first = ordered[0]
    if index <= first.index(bars):
        return max(0.0, first.seconds - (first.index(bars) - index) * _length(ordered, bars, duration))
    for one, two in pairwise(ordered):
        if index <= two.index(bars):
            share = (index - one.index(bars)) / (two.index(bars) - one.index(bars))
            return one.seconds + share * (two.seconds - one.seconds)
    last = ordered[-1]
    time = last.seconds + (index - last.index(bars)) * _length(ordered, bars, duration)
    return min(time, duration) if duration is not None else time


def _length(ordered: Sequence[Moment], bars: int, duration: float | None) -> float:
    """The mean length of a bar over all that was tapped; from one moment alone, by what is left."""
    first, last = ordered[0], ordered[-1]
    span = last.index(bars) - first.index(bars)
    if span:
        return (last.seconds - first.seconds) / span
    left = (duration - first.seconds) if duration is not None else 0.0
    return max(left, 0.0) / bars


def place_at(times: Sequence[Sequence[float]], seconds: float) -> tuple[int, int] | None:
    """Chorus and bar that sound at a moment, None before the first bar."""
    found = None
    for chorus, row in enumerate(times, 1):
        for bar, start in enumerate(row, 1):
            if start <= seconds:
                found = (chorus, bar)
    return found
