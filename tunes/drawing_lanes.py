"""The lines above and below the bars: arrows, brackets and the landing profile, in drawing units.

Every bar is `UNIT` wide and shows a window on one long drawing, so a line that crosses a bar line, or breaks at
the end of a system, needs no knowledge of where systems end. Signs are those of published jazz analysis (Nettles
& Graf, *The Chord Scale Theory and Jazz Harmony*, Advance Music 1997): solid arrow for a dominant that goes
down a fifth, dashed arrow down a semitone; solid bracket for a ii–V a fifth apart, dashed for one a semitone
apart. The landing profile is this app's own picture: a staircase whose height at a chord is the number of
resolutions still to come before the music lands on its local tonic.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from tunes.harmony.analysis.pipeline import Analysis, Reading
from tunes.harmony.charts import Event

UNIT = 240  # width of a bar in drawing units
ARC_HEIGHT = 40  # height of the lane above the bars
BASE = 39.0  # where arrows start and end, measured from the top of that lane
STEP = 10  # height of one stair
MOST_STEPS = 7  # higher stairs are drawn at this height
PAD = 5  # room for strokes above and below the stairs
FARTHEST_ARROW = 2 * UNIT  # a longer one would run flat over whole systems: only its two ends are drawn
NEAR = 0.4 * UNIT  # length of the end that arrives
FARTHEST_BRACKET = 2  # events; a bracket around a whole detour would hide what stands inside it
INSET = 16  # arrows spring from the middle of a chord's root, not from its left edge


@dataclass(frozen=True)
class Place:
    """Where an event is drawn: which bar, and from where to where in drawing units."""

    bar: int
    start: Fraction
    end: Fraction


@dataclass(frozen=True)
class Mark:
    """One line above the bars. `kind`: "arrow" or "bracket"; `dashed` for a semitone; `head` its arrow head."""

    kind: str
    dashed: bool
    path: str
    head: str
    left: float
    right: float


@dataclass(frozen=True)
class Stair:
    """One chord's stretch of the profile: `y` of its line, from x to x."""

    left: float
    right: float
    y: float
    rise: str  # the upright that joins it to the stair before, "" at a break
    lands: bool
    drop: float  # height of the wash beneath it

    @property
    def width(self) -> float:
        return self.right - self.left


@dataclass(frozen=True)
class Profile:
    """Size of the profile lane: `height` in drawing units, `ground` the y of landing, `top` the stairs above it."""

    height: int
    ground: float
    top: int


@dataclass(frozen=True)
class Lanes:
    """What one bar shows: the windows of both lanes and what is to be drawn in them."""

    arc_box: str
    profile_box: str
    left: int
    right: int
    marks: tuple[Mark, ...]
    stairs: tuple[Stair, ...]
    profile: Profile


@dataclass(frozen=True)
class AllLanes:
    """The lanes of a whole chart; `window` cuts out one bar."""

    marks: tuple[Mark, ...]
    stairs: Mapping[int, tuple[Stair, ...]]
    profile: Profile

    def window(self, bar: int) -> Lanes:
        left, right = bar * UNIT, (bar + 1) * UNIT
        return Lanes(
            arc_box=f"{left} 0 {UNIT} {ARC_HEIGHT}",
            profile_box=f"{left} 0 {UNIT} {self.profile.height}",
            left=left,
            right=right,
            marks=tuple(mark for mark in self.marks if mark.left < right and mark.right > left),
            stairs=self.stairs.get(bar, ()),
            profile=self.profile,
        )


def make_lanes(analysis: Analysis, events: Sequence[Event], places: Mapping[int, Place]) -> AllLanes:
    """All marks and stairs of a chart. `places` holds the drawn events only (one pass when repeats are folded)."""
    order = sorted(places)
    heights = [h for i in order if (h := analysis.landing[i]) is not None]
    top = min(MOST_STEPS, max([1, *heights]))
    profile = Profile(height=2 * PAD + STEP * top, ground=float(PAD + STEP * top), top=top)
    return AllLanes(_marks(analysis, events, places), _stairs(analysis, places, order, profile), profile)


def _marks(analysis: Analysis, events: Sequence[Event], places: Mapping[int, Place]) -> tuple[Mark, ...]:
    found = []
    for reading in analysis.readings:
        target = reading.resolves_to
        if (
            target is None
            or reading.resolution in ("onward", "held")
            or reading.event not in places
            or not 0 <= target < len(events)
        ):
            continue
        kind = _kind(reading, analysis.readings[target])
        motion = _motion(events[reading.event], events[target])
        if kind is None or motion is None:
            continue
        found.extend(_mark(kind, motion == "semitone", places, reading.event, target))
    return tuple(found)


def _kind(reading: Reading, target: Reading) -> str | None:
    if reading.function.role == "dominant":
        return None if reading.resolution == "deceptive" else "arrow"
    preparing = reading.function.role == "predominant" or reading.function.of == "2"
    near = 0 < target.event - reading.event <= FARTHEST_BRACKET
    return "bracket" if preparing and near and target.function.role == "dominant" else None


def _motion(source: Event, target: Event) -> str | None:
    """ "fifth" for a root going down a perfect fifth, "semitone" for one going down a semitone, else None."""
    if source.symbol is None or target.symbol is None:
        return None
    down = (source.symbol.root.pc - target.symbol.root.pc) % 12
    return {7: "fifth", 1: "semitone"}.get(down)


def _mark(kind: str, dashed: bool, places: Mapping[int, Place], source: int, target: int) -> list[Mark]:
    here = places[source]
    left = float(here.start) + INSET
    there = places.get(target)
    if there is None or there.start <= here.start:  # back to the top, or into a pass that is not drawn
        return [_leaving(kind, dashed, left, float((here.bar + 1) * UNIT))]
    right = float(there.start) + INSET
    if kind == "bracket":
        return [Mark(kind, dashed, _bracket(left, right), "", left, right)]
    if right - left > FARTHEST_ARROW:
        leaving = _leaving(kind, dashed, left, float((here.bar + 1) * UNIT))
        return [leaving, _arriving(kind, dashed, max(right - NEAR, float(there.bar * UNIT)), right)]
    return [Mark(kind, dashed, _arc(left + 4, right - 3), _head(right - 3), left, right)]


def _arriving(kind: str, dashed: bool, left: float, right: float) -> Mark:
    """The end of a line that began bars before: down onto its goal from the left."""
    path = f"M{left:.0f} 14Q{right - 6:.0f} 12 {right - 3:.0f} {BASE - 1:.0f}"
    return Mark(kind, dashed, path, _head(right - 3), left, right)


def _bracket(left: float, right: float) -> str:
    return f"M{left:.0f} {BASE:.0f}V{BASE - 7:.0f}H{right - 6:.0f}V{BASE:.0f}"


def _arc(left: float, right: float) -> str:
    lift = min(BASE - 3, 16 + (right - left) / 14)
    bend = min((right - left) * 0.22, 60)
    top = BASE - lift * 4 / 3 if lift < BASE * 0.7 else 2 - lift / 4
    return f"M{left:.0f} {BASE - 9:.0f}C{left + bend:.0f} {top:.0f} {right - bend:.0f} {top:.0f} {right:.0f} {BASE - 1:.0f}"


def _head(x: float) -> str:
    return f"M{x - 7:.0f} {BASE - 7:.0f}L{x:.0f} {BASE:.0f}L{x + 3:.0f} {BASE - 9:.0f}"


def _leaving(kind: str, dashed: bool, left: float, right: float) -> Mark:
    """A line that runs off the right edge of its bar: what it aims at is not drawn after it."""
    if kind == "bracket":
        return Mark(kind, dashed, f"M{left:.0f} {BASE:.0f}V{BASE - 7:.0f}H{right:.0f}", "", left, right)
    mid = (left + right) / 2
    path = f"M{left + 4:.0f} {BASE - 9:.0f}Q{mid:.0f} 12 {right - 4:.0f} 14"
    head = f"M{right - 11:.0f} 8L{right - 3:.0f} 14L{right - 11:.0f} 20"
    return Mark(kind, dashed, path, head, left, right)


def _stairs(
    analysis: Analysis, places: Mapping[int, Place], order: Sequence[int], profile: Profile
) -> dict[int, tuple[Stair, ...]]:
    found: dict[int, list[Stair]] = {}
    before: int | None = None
    for event in order:
        place, height = places[event], analysis.landing[event]
        if height is not None:
            y = profile.ground - STEP * min(height, MOST_STEPS)
            left, right = float(place.start), float(place.end)
            rise = ""
            if before is not None and before != height:
                rise = f"M{left:g} {profile.ground - STEP * min(before, MOST_STEPS):g}V{y:g}"
            lands = height == 0 and before is not None and before > 0
            found.setdefault(place.bar, []).append(Stair(left, right, y, rise, lands, profile.ground - y))
        before = None if analysis.readings[event].resolution in ("deceptive", "held") else height  # the line breaks off
    return {bar: tuple(stairs) for bar, stairs in found.items()}
