"""What is read: notes, the chords they sound over, and the bars they stand in.

Units: times are **crotchets** (quarter notes) from the first bar line of the solo, as `Fraction` when they were
written and as `float` when they come from a machine; a pickup has negative times. Pitches are concert pitches.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from tunes.harmony.charts.bars import Metre
from tunes.harmony.charts.model import Chart
from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.pitch.spelling import Key, NoteName
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.reading import Analysis

Time = Fraction | float
CLOSE = 1e-4
"""Two times nearer than this, in crotchets, are one."""


@dataclass(frozen=True, slots=True)
class Note:
    """One note of a melody.

    onset     crotchets from the first bar line.
    duration  crotchets; None when nobody knows how long it lasted.
    midi      sounding pitch, 60 is middle C.
    name      how it was spelled, in concert pitch; None when only its sound is known.
    lean      crotchets that it was played before (negative) or after the place where it is written.
    phrase    the writer begins a phrase here.
    ghost     swallowed: it is read, and counts for no habit.
    """

    onset: Time
    duration: Time | None
    midi: int
    name: NoteName | None = None
    lean: float = 0.0
    phrase: bool = False
    ghost: bool = False


@dataclass(frozen=True, slots=True)
class Change:
    """A chord and where it begins, in crotchets; `symbol` None where no chord sounds.

    key, function   what the analysis of the chart hears; None when there is none.
    aim             (root pitch class, minor) of the chord it resolves to, as the analysis hears it; None when it does not
                    say: the next chord on another root is taken.
    event           index in `chart.events()`, None when it comes from no chart.
    """

    start: Time
    symbol: ChordSymbol | None
    key: Key | None = None
    function: Function | None = None
    aim: tuple[int, bool] | None = None
    event: int | None = None


@dataclass(frozen=True, slots=True)
class GridBar:
    """A bar as it is played: number from 1, start and length in crotchets, crotchets in a beat, chorus and bar of the form."""

    number: int
    start: Fraction
    length: Fraction
    beat: Fraction = Fraction(1)
    chorus: int = 1
    form_bar: int = 0
    label: str = ""


@dataclass(frozen=True, slots=True)
class Place:
    """Bar (from 1; 0 and less before the first), beat (from 1) and the part of the beat that has gone by (0 ≤ tick < 1)."""

    bar: int
    beat: int
    tick: Time


@dataclass(frozen=True, slots=True)
class Grid:
    """The bars of a solo, end to end. Before the first and after the last bar it goes on in the same metre."""

    bars: tuple[GridBar, ...]

    @classmethod
    def even(cls, metre: Metre, bars: int = 1) -> Grid:
        """Bars of one metre."""
        length, beat = metre.quarters, Fraction(4, metre.unit)
        return cls(tuple(GridBar(n + 1, n * length, length, beat, 1, n + 1) for n in range(max(1, bars))))

    def bar_at(self, onset: Time) -> GridBar:
        """The bar that holds a time."""
        index = bisect_right(self.bars, float(onset) + CLOSE, key=lambda bar: float(bar.start)) - 1
        bar = self.bars[max(0, index)]
        ahead = int((onset + CLOSE - bar.start) // bar.length)
        if index < 0 or (index == len(self.bars) - 1 and ahead > 0):
            return GridBar(bar.number + ahead, bar.start + ahead * bar.length, bar.length, bar.beat, bar.chorus)
        return bar

    def numbers(self, onsets: Iterable[Time]) -> list[int]:
        """The number of the bar that holds each time."""
        starts = [float(bar.start) for bar in self.bars]
        first, last = self.bars[0], self.bars[-1]
        before, after = float(first.length), float(last.length)
        found = []
        for onset in onsets:
            at = float(onset) + CLOSE
            index = bisect_right(starts, at) - 1
            if index < 0:
                found.append(first.number + int((at - starts[0]) // before))
            elif index == len(starts) - 1:
                found.append(last.number + int((at - starts[-1]) // after))
            else:
                found.append(self.bars[index].number)
        return found

    def place(self, onset: Time) -> Place:
        """Bar, beat and part of the beat of a time.

        >>> Grid.even(Metre(4, 4), 2).place(Fraction(11, 2))
        Place(bar=2, beat=2, tick=Fraction(1, 2))
        """
        bar = self.bar_at(onset)
        beats = (onset - bar.start) / bar.beat
        whole = int(beats + CLOSE)
        return Place(bar.number, whole + 1, max(beats - whole, Fraction(0)))


def changes_of(chart: Chart, analysis: Analysis | None = None, choruses: int = 1) -> tuple[tuple[Change, ...], Grid]:
    """The chords of a chart, played so many times, and its bars; repeats are unfolded, bars counted as played.

    A pickup of the chart is left out: a solo begins on bar 1 of the form, its own pickup has negative times.
    """
    events = chart.events()
    form = [bar for bar in chart.unfold() if not chart.bars[bar.bar].is_pickup]
    starts: dict[int, Fraction] = {}
    bars: list[GridBar] = []
    at = Fraction(0)
    for chorus in range(1, choruses + 1):
        for number, place in enumerate(form, 1):
            written = chart.bars[place.bar]
            beat = Fraction(4, written.metre.unit)
            label = place.section_label if _opens(form, number) else ""
            bars.append(GridBar(len(bars) + 1, at, written.beats * beat, beat, chorus, number, label))
            if chorus == 1:
                starts[place.index] = at
            at += written.beats * beat
    length = at / choruses if choruses else at
    first = [
        _change(chart, analysis, event.index, starts[event.chorus_bar] + event.onset * Fraction(4, event.metre.unit))
        for event in events
        if event.chorus_bar in starts and event.text != "/"
    ]
    changes = tuple(_later(change, chorus * length) for chorus in range(choruses) for change in first)
    return changes, Grid(tuple(bars) or Grid.even(chart.metre).bars)


def _opens(form: Sequence[object], number: int) -> bool:
    """Whether a section begins at the bar of that number (from 1)."""
    here = getattr(form[number - 1], "section_label", "")
    return number == 1 or here != getattr(form[number - 2], "section_label", "")


def _change(chart: Chart, analysis: Analysis | None, event: int, start: Fraction) -> Change:
    symbol = chart.events()[event].symbol
    if analysis is None or event >= len(analysis.readings) or symbol is None:
        return Change(start, symbol, chart.key, event=event)
    reading = analysis.readings[event]
    aim = None
    if reading.function.role == "dominant" and (goal := analysis.heading(event)) is not None:
        aimed = analysis.readings[goal]
        aim = (aimed.root, aimed.function.minor)
    return Change(start, symbol, reading.key, reading.function, aim, event)


def _later(change: Change, by: Fraction) -> Change:
    return Change(change.start + by, change.symbol, change.key, change.function, change.aim, change.event)


def in_order(notes: Iterable[Note]) -> tuple[Note, ...]:
    """Notes by onset; of two at once the lower first. A melody has one note at a time: a chord is read from the bottom."""
    return tuple(sorted(notes, key=lambda note: (note.onset, note.midi)))
