"""Score what a player tapped against where the form really was. Pure; all places are beats from the first downbeat.

A tap counts for the nearest top or bridge that it is closest to, at most `REACH` beats away. How far off a
tap may be and still be "together" is a beat at most: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

REACH = 4.0  # a tap further away than a bar of 4/4 belongs to nothing
TOGETHER = 0.5
NEAR = 1.0


@dataclass(frozen=True)
class Place:
    """Something to be tapped: the top of a chorus or of its bridge. `silent` when the band was silent there."""

    beat: float
    kind: str  # "top" or "bridge"
    chorus: int
    silent: bool = False


@dataclass(frozen=True)
class Tapped:
    """A place and how many beats the tap came after it (negative: before); None when none came."""

    place: Place
    off: float | None

    @property
    def verdict(self) -> str:
        if self.off is None:
            return "missed"
        distance = abs(self.off)
        if distance <= TOGETHER:
            return "together"
        side = "late" if self.off > 0 else "early"
        return side if distance <= NEAR else f"{side}, {distance:.1f} beats"

    @property
    def credit(self) -> float:
        """1 together, falling to 0 at `REACH` beats."""
        if self.off is None:
            return 0.0
        return max(0.0, min(1.0, 1 - (abs(self.off) - TOGETHER) / (REACH - TOGETHER)))


@dataclass(frozen=True)
class RunScore:
    """`score` from 0 to 1: the mean credit, less a tenth for every tap that belongs to nothing."""

    places: tuple[Tapped, ...]
    stray: int
    score: float
    held: bool  # every place tapped within a beat, nothing stray: the tempo may rise

    @property
    def mean_off(self) -> float:
        hits = [abs(tapped.off) for tapped in self.places if tapped.off is not None]
        return sum(hits) / len(hits) if hits else 0.0


def score_taps(places: Sequence[Place], taps: Sequence[float], metre_beats: float = 4.0) -> RunScore:
    """Match taps to places, nearest pairs first, each used once.

    >>> score_taps([Place(0, "top", 1), Place(32, "top", 2)], [0.1, 33.0]).places[1].verdict
    'late'
    """
    reach = max(REACH, metre_beats)
    pairs = sorted(
        (abs(tap - place.beat), number, index)
        for number, place in enumerate(places)
        for index, tap in enumerate(taps)
        if abs(tap - place.beat) <= reach
    )
    off: dict[int, float] = {}
    used: set[int] = set()
    for _distance, number, index in pairs:
        if number not in off and index not in used:
            off[number] = taps[index] - places[number].beat
            used.add(index)
    found = tuple(Tapped(place, off.get(number)) for number, place in enumerate(places))
    stray = len(taps) - len(used)
    mean = sum(tapped.credit for tapped in found) / len(found) if found else 0.0
    held = stray == 0 and all(t.off is not None and abs(t.off) <= NEAR for t in found)
    return RunScore(found, stray, max(0.0, round(mean - 0.1 * stray, 4)), held and bool(found))


def next_tempo(tempo: int, held: bool, top: int) -> int:
    """Six beats a minute more after a run that held, up to `top`; four fewer after one that did not, not below 40."""
    return min(tempo + 6, max(top, tempo)) if held else max(40, tempo - 4)


def advice(tempo: int, held: bool, then: int) -> str:
    """What is said about the next run: a tempo only where it is another one than that of this run."""
    if then == tempo:
        return "It held, as fast as this tune goes." if held else ""
    return f"It held: try {then} beats a minute." if held else f"Next time {then} beats a minute."
