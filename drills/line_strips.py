"""Where a line can stand in a chart, drawn: the form as a strip of bars, its landing line, a block at every place. Pure.

Shares of the width are percent of one chorus, heights are pixels; nothing in it is text that would be stretched.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from drills.vocabulary import Place
from tunes.harmony.charts.bar_count import bar_count, bars_named
from tunes.study import StudyChart

GROUND = 34.0  # where blocks stand
STEP = 4.0  # of the landing line, for each resolution still to come
MOST_STEPS = 5
NEAREST = 5.5  # percent between two bar numbers, so that they can be read on a phone


@dataclass(frozen=True, slots=True)
class Form:
    """One chorus of a chart: per bar its start, number as played and letter where a section opens; per event its start, the number
    and the name of its bar, and how many resolutions are still to come. Times in crotchets."""

    length: float
    bars: tuple[tuple[float, int, str], ...]
    starts: tuple[float, ...]
    numbers: tuple[int, ...]
    names: tuple[str, ...]
    landing: tuple[int | None, ...]


def form_of(study: StudyChart) -> Form:
    """The form of a concert study. A pickup lies before the strip begins."""
    chart, count = study.chart, bar_count(study.chart)
    bars: list[tuple[float, int, str]] = []
    at: dict[int, float] = {}
    time, before, section = Fraction(0), -1, -1
    for one in chart.unfold():
        bar = chart.bars[one.bar]
        at[one.index] = float(time)
        opens = not bars or bar.section != section or one.bar <= before
        section, before = bar.section, one.bar
        if not bar.is_pickup:
            bars.append((float(time), count.chorus[one.index], one.section_label if opens else ""))
        time += bar.beats * Fraction(4, bar.metre.unit)
    events = chart.events()
    starts = tuple(at[e.chorus_bar] + float(e.onset * Fraction(4, e.metre.unit)) for e in events)
    names = tuple(count.name_at(e.index) for e in events)
    return Form(float(time), tuple(bars), starts, count.events, names, tuple(study.analysis.landing))


@dataclass(frozen=True, slots=True)
class Tick:
    """A bar line at `x`; `letter` where a section opens there."""

    x: float
    letter: str


@dataclass(frozen=True, slots=True)
class Stair:
    """One step of the landing line, and the height of the one before (the same at the start)."""

    left: float
    right: float
    y: float
    before: float


@dataclass(frozen=True, slots=True)
class Block:
    """A place of the line; `number` of its bar as played, "" where it would stand too near the one before."""

    left: float
    width: float
    fits: bool
    number: str


@dataclass(frozen=True, slots=True)
class Strip:
    """What is drawn of one chart, and the same in words."""

    ticks: tuple[Tick, ...]
    stairs: tuple[Stair, ...]
    blocks: tuple[Block, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Fit:
    """A place where the line fits, for a link: its event and the name of its bar."""

    event: int
    bar: str


def strip_of(form: Form, places: Sequence[Place]) -> Strip:
    """The strip of a chart with these places of a line in it."""
    return Strip(
        tuple(Tick(_share(start, form), letter) for start, _, letter in form.bars),
        tuple(_stairs(form)),
        tuple(_blocks(form, places)),
        _words(form, places),
    )


def fits_of(form: Form, places: Sequence[Place]) -> tuple[Fit, ...]:
    return tuple(Fit(place.first, form.names[place.first]) for place in places if place.fits)


def reasons_of(form: Form, places: Sequence[Place]) -> tuple[tuple[str, str], ...]:
    """(bars, why) of the places where the line does not fit, each reason once."""
    why: defaultdict[str, list[int]] = defaultdict(list)
    for place in places:
        if not place.fits:
            why[place.why_not].append(form.numbers[place.first])
    return tuple((bars_named(numbers), reason) for reason, numbers in why.items())


def _share(time: float, form: Form) -> float:
    return round(100 * time / form.length, 3) if form.length else 0.0


def _stairs(form: Form) -> list[Stair]:
    found: list[Stair] = []
    ends = [*form.starts[1:], form.length]
    for start, end, height in zip(form.starts, ends, form.landing, strict=False):
        if height is None or end <= start:
            continue
        y = GROUND - STEP * min(height, MOST_STEPS)
        left, right = _share(start, form), _share(end, form)
        if found and found[-1].y == y and found[-1].right == left:
            found[-1] = Stair(found[-1].left, right, y, found[-1].before)
        else:
            joined = found and found[-1].right == left
            found.append(Stair(left, right, y, found[-1].y if joined else y))
    return found


def _blocks(form: Form, places: Sequence[Place]) -> list[Block]:
    """In order of time; a place that runs through the repeat of the form is drawn at both ends."""
    found: list[Block] = []
    told = -NEAREST
    for place in sorted(places, key=lambda one: form.starts[one.first]):
        start = float(place.starts[0]) if place.starts else form.starts[place.first]
        start %= form.length
        end = start + float(place.ends - place.starts[0]) if place.starts else _end_of(form, place.first)
        left = _share(start, form)
        number = str(form.numbers[place.first]) if left - told >= NEAREST else ""
        told = left if number else told
        found.append(Block(left, _share(min(end, form.length) - start, form), place.fits, number))
        if end > form.length:
            found.append(Block(0.0, _share(min(end - form.length, form.length), form), place.fits, ""))
    return found


def _end_of(form: Form, event: int) -> float:
    return form.starts[event + 1] if event + 1 < len(form.starts) else form.length


def _words(form: Form, places: Sequence[Place]) -> str:
    said = [f"{len(form.bars)} bars"]
    for words, fits in (("fits", True), ("does not fit", False)):
        numbers = [form.numbers[place.first] for place in places if place.fits is fits]
        if numbers:
            said.append(f"it {words} in {bars_named(numbers)}")
    return "; ".join(said)
