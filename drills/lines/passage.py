"""The changes a drill is made over: one chorus, or a stretch of it, with times in crotchets.

`passage` reads a chart and its analysis once; generators see nothing else. A chord that a copied bar repeats, or
that is typed twice in a row, stays two `LineChord`s and is one `Span`: the harmony stands still.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise

from tunes.harmony.analysis.pipeline import Analysis, Reading
from tunes.harmony.charts.bar_count import bar_count, bar_name
from tunes.harmony.charts.bars import BLANK, HELD, Bar, ChorusBar, Event
from tunes.harmony.charts.model import Chart
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import Interval, Key

from .line import LineBar, LineChord

PHRASE = 4


class EmptyPassage(ValueError):
    """The chosen bars hold nothing to practise; the message says what to choose instead."""


@dataclass(frozen=True)
class Passage:
    """Bars and chords in playing order. `readings` maps an event to how it is heard; empty without an analysis."""

    key: Key
    bars: tuple[LineBar, ...]
    chords: tuple[LineChord, ...]
    readings: dict[int, Reading]

    def bar_number(self, time: Fraction) -> int:
        """Number as played of the bar at a time; the last bar for a time past the end."""
        return self.bars[max(bisect_right(self.bars, time, key=lambda bar: bar.start) - 1, 0)].number

    def key_at(self, event: int) -> Key:
        """The key area of an event."""
        reading = self.readings.get(event)
        return reading.key if reading else self.key

    @property
    def spans(self) -> tuple[Span, ...]:
        """Chords in order, equal neighbours joined; N.C. is a span without a symbol."""
        return tuple(_spans(self.chords, self.bars))


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of one harmony. `chords` are its places; `phrase` says that a phrase begins with it."""

    symbol: ChordSymbol | None
    chords: tuple[LineChord, ...]
    phrase: bool = False
    joined: bool = True

    @property
    def start(self) -> Fraction:
        return self.chords[0].start

    @property
    def end(self) -> Fraction:
        return self.chords[-1].end

    @property
    def event(self) -> int:
        return self.chords[0].event


def _spans(chords: Sequence[LineChord], bars: Sequence[LineBar]) -> Iterable[Span]:
    phrases = {bar.start for bar in bars if bar.phrase}
    breaks = {bar.start for bar in bars if not bar.joined}
    runs: list[list[LineChord]] = []
    for chord in chords:
        held = runs and runs[-1][-1].symbol == chord.symbol and runs[-1][-1].end == chord.start
        if held and chord.start not in breaks:
            runs[-1].append(chord)
        else:
            runs.append([chord])
    for run in runs:
        start = run[0].start
        yield Span(run[0].symbol, tuple(run), start in phrases, start not in breaks)


def passage(
    chart: Chart,
    analysis: Analysis | None = None,
    *,
    events: Iterable[int] | None = None,
    bars: Iterable[int] | None = None,
    whole_chorus: bool = True,
) -> Passage:
    """The chorus of a chart, or the part of it that holds the given events or printed bar numbers.

    With `bars` and `whole_chorus` False, a pass through them that brings no bar of its own is left out: a plain repeat
    is practised once, bars before a second ending come again with it, as the chorus plays them. Raises `EmptyPassage`
    when nothing is left.
    """
    chorus = chart.unfold()
    keep = _chosen(chart, chorus, events, bars, whole_chorus)
    line_bars = _line_bars(chart, chorus, keep, analysis)
    chords = _chords(chart, keep, line_bars, analysis)
    if not line_bars or all(chord.symbol is None for chord in chords):
        raise EmptyPassage("There is no chord in these bars: choose bars that have changes in them.")
    readings = {reading.event: reading for reading in analysis.readings} if analysis else {}
    home = chart.key or (analysis.home if analysis else None) or _guessed_key(chords)
    return Passage(home, tuple(line_bars.values()), chords, readings)


def _guessed_key(chords: Sequence[LineChord]) -> Key:
    """Without a stated key or an analysis: the root of the last chord."""
    last = next(chord.symbol for chord in reversed(chords) if chord.symbol)
    return Key(last.root, "minor" if last.family in ("minor", "half-diminished") else "major")


def _chosen(
    chart: Chart,
    chorus: Sequence[ChorusBar],
    events: Iterable[int] | None,
    bars: Iterable[int] | None,
    whole_chorus: bool,
) -> list[int]:
    """Indices of the chorus bars to keep, in order."""
    if events is not None:
        wanted = set(events)
        return sorted({event.chorus_bar for event in chart.events() if event.index in wanted})
    if bars is None:
        return [place.index for place in chorus]
    numbers = set(bars)
    kept = [place for place in chorus if chart.bars[place.bar].number in numbers]
    return [place.index for place in (kept if whole_chorus else _once(kept))]


def _once(kept: Sequence[ChorusBar]) -> list[ChorusBar]:
    """The passes (runs that only go forwards on paper) that bring at least one bar which none before them brought."""
    passes: list[list[ChorusBar]] = []
    for place in kept:
        if passes and place.bar > passes[-1][-1].bar:
            passes[-1].append(place)
        else:
            passes.append([place])
    seen, found = set[int](), []
    for run in passes:
        if not seen.issuperset(place.bar for place in run):
            found += run
            seen.update(place.bar for place in run)
    return found


def again(part: Passage) -> list[int]:
    """The bars that a passage plays again, by the numbers as played under which they come back, in order."""
    seen, found = set[int](), []
    for bar in part.bars:
        written = bar.number if bar.written is None else bar.written
        if written in seen:
            found.append(bar.number)
        seen.add(written)
    return found


def _line_bars(
    chart: Chart, chorus: Sequence[ChorusBar], keep: Sequence[int], analysis: Analysis | None
) -> dict[int, LineBar]:
    """Line bars by index of chorus bar."""
    areas, numbers = _area_starts(chart, analysis), bar_count(chart).chorus
    result: dict[int, LineBar] = {}
    time, previous = Fraction(0), None
    for index in keep:
        place = chorus[index]
        bar = chart.bars[place.bar]
        since = place.bar - chart.sections[bar.section].first_bar if chart.sections else place.bar
        joined = previous is None or previous == index - 1
        starts = since == 0 and not bar.is_pickup
        length = _quarters(bar.beats, bar)
        result[index] = LineBar(
            numbers[index],
            bar.metre,
            time,
            length,
            label=place.section_label if starts else "",
            area=_area_at(areas, index, first=previous is None or not joined),
            joined=joined,
            phrase=starts or since % PHRASE == 0,
            written=bar.number if bar.number != numbers[index] else None,
        )
        time += length
        previous = index
    return result


def _quarters(beats: Fraction, bar: Bar) -> Fraction:
    return beats * 4 / bar.metre.unit


def _area_starts(chart: Chart, analysis: Analysis | None) -> list[tuple[int, Key]]:
    """(chorus bar, key) for every key area that begins with a new key."""
    if analysis is None or not analysis.areas:
        return []
    events = chart.events()
    starts = [(events[area.first].chorus_bar, area.key) for area in analysis.areas if area.first < len(events)]
    return [next(group) for _, group in groupby(starts, key=lambda start: start[1])]


def _area_at(areas: Sequence[tuple[int, Key]], index: int, first: bool) -> Key | None:
    """The key to print at a bar: where it begins, and at the first bar of a stretch whatever holds there."""
    here = [key for start, key in areas if start == index]
    if here:
        return here[-1]
    before = [key for start, key in areas if start < index]
    return before[-1] if first and before else None


def _chords(
    chart: Chart, keep: Sequence[int], bars: dict[int, LineBar], analysis: Analysis | None
) -> tuple[LineChord, ...]:
    kept = set(keep)
    chords: list[LineChord] = []
    sounding = _sounding(chart)
    wanted = (event for event in chart.events() if event.chorus_bar in kept)
    for index, group in groupby(wanted, key=lambda event: event.chorus_bar):
        events = list(group)
        places = _places(bars[index], events)
        chords += [
            _chord(event, sounding[event.index], place, analysis) for event, place in zip(events, places, strict=True)
        ]
    return tuple(chords)


GRIDS = (Fraction(1), Fraction(1, 2), Fraction(1, 4), Fraction(1, 8), Fraction(1, 16))


def _places(bar: LineBar, events: Sequence[Event]) -> list[tuple[Fraction, Fraction]]:
    """(start, duration) of the chords of one bar in crotchets.

    Three chords in a bar of four stand on thirds of it; nobody plays that, so they are moved to the nearest beats
    (or half beats, where two would fall together). Raises `EmptyPassage` when a bar holds more than can be written.
    """
    unit = Fraction(4, events[0].metre.unit)
    starts = [event.onset * unit for event in events]
    for grid in GRIDS:
        if all((start / GRIDS[-1]).denominator == 1 for start in starts):
            break
        moved = [round(start / grid) * grid for start in starts]
        if all(a < b for a, b in pairwise([*moved, bar.length])):
            starts = moved
    else:
        if any((start / GRIDS[-1]).denominator != 1 for start in starts):
            raise EmptyPassage(
                f"{bar_name(bar.number, bar.written).capitalize()} holds more chords than can be played: leave it out."
            )
    ends = [*starts[1:], (events[-1].onset + events[-1].duration) * unit]
    return [(bar.start + start, end - start) for start, end in zip(starts, ends, strict=True)]


def _sounding(chart: Chart) -> list[ChordSymbol | None]:
    """What sounds at each event: a chord held over the barline goes on."""
    found: list[ChordSymbol | None] = []
    for event in chart.events():
        held = event.symbol is None and event.text == HELD and found
        found.append(found[-1] if held else event.symbol)
    return found


def _chord(
    event: Event, symbol: ChordSymbol | None, place: tuple[Fraction, Fraction], analysis: Analysis | None
) -> LineChord:
    chord = LineChord(event.index, symbol, *place, blank=event.text == BLANK)
    if analysis is None or event.index >= len(analysis.readings) or event.symbol is None:
        return chord
    reading = analysis.readings[event.index]
    function = reading.function
    symbol = readable(chord.symbol, reading.key, function.degree) if chord.symbol else None
    return replace(chord, symbol=symbol, numeral=function.numeral, spoken=function.spoken)


def readable(symbol: ChordSymbol, key: Key, degree: str) -> ChordSymbol:
    """The chord on the root that its function names, when as typed it would be written with more double signs.

    B major 7 typed for the flat seventh of D flat turns into G sharp major 7 for an alto; A flat is meant.
    """
    meant = key.note_at(degree)
    if meant == symbol.root or meant.pc != symbol.root.pc:
        return symbol
    steps = (meant.step - symbol.root.step + 3) % 7 - 3
    other = symbol.transposed(Interval(steps, 0))
    return other if _double_signs(other) < _double_signs(symbol) else symbol


def _double_signs(symbol: ChordSymbol) -> int:
    return sum(abs(tone.alter) > 1 for tone in symbol.tones)
