"""The bars that a solo covers: one chorus of its chart after the other, in the pitch somebody reads. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from studio.instruments import Instrument
from tunes.harmony.charts import Chart, Metre
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import OCTAVE, UNISON, Interval, Key
from tunes.pitch import Sight, seen
from tunes.study import StudyChart


@dataclass(frozen=True)
class Covers:
    """From which bar of which chorus to which, all counted from 1 as played."""

    first_chorus: int = 1
    first_bar: int = 1
    last_chorus: int = 1
    last_bar: int = 1

    def places(self, form: int) -> list[tuple[int, int]]:
        """(chorus, bar) of every bar, for a form of that many bars."""
        if form < 1:
            return []
        first = (self.first_chorus - 1) * form + min(self.first_bar, form) - 1
        last = (self.last_chorus - 1) * form + min(self.last_bar, form) - 1
        return [(at // form + 1, at % form + 1) for at in range(first, last + 1)]


@dataclass(frozen=True)
class SoloChord:
    """A chord over the solo; `event` is its place in `chart.events()`, times are quarter notes of its bar."""

    symbol: ChordSymbol | None
    at: Fraction
    length: Fraction
    event: int


@dataclass(frozen=True)
class SoloBar:
    """One bar of the solo: `index` from 0, `number` its bar of the chorus as played, `label` where a section opens."""

    index: int
    chorus: int
    number: int
    label: str
    metre: Metre
    start: Fraction
    chords: tuple[SoloChord, ...]

    @property
    def length(self) -> Fraction:
        return self.metre.quarters


@dataclass(frozen=True)
class SoloForm:
    """The bars of a solo in one pitch. Written notes lie `shift` above the concert ones; `study` is in that pitch."""

    study: StudyChart
    key: Key
    bars: tuple[SoloBar, ...]
    shift: Interval
    instrument: Instrument

    @cached_property
    def starts(self) -> tuple[Fraction, ...]:
        return tuple(bar.start for bar in self.bars)

    @cached_property
    def lengths(self) -> tuple[Fraction, ...]:
        return tuple(bar.length for bar in self.bars)


def form_length(chart: Chart) -> int:
    """Bars of one chorus as played, a pickup left out."""
    return max(bar_count(chart).chorus, default=0)


def solo_form(study: StudyChart, covers: Covers, instrument: Instrument) -> SoloForm:
    """The bars of a concert study as that instrument reads them."""
    printed = seen(study, Sight(instrument=instrument))
    return SoloForm(printed, printed.key, _bars(printed, covers), _shift(printed, instrument), instrument)


def _shift(printed: StudyChart, instrument: Instrument) -> Interval:
    """The interval of the moved study, in the octave that the instrument reads."""
    moved = printed.interval if not instrument.is_concert else UNISON
    while moved.semitones < instrument.interval.semitones:
        moved += OCTAVE
    while moved.semitones > instrument.interval.semitones:
        moved -= OCTAVE
    return moved


def _bars(study: StudyChart, covers: Covers) -> tuple[SoloBar, ...]:
    chorus = _chorus(study)
    found: list[SoloBar] = []
    start = Fraction(0)
    for number, (chorus_no, bar) in enumerate(covers.places(len(chorus))):
        label, metre, chords = chorus[bar - 1]
        found.append(SoloBar(number, chorus_no, bar, label, metre, start, chords))
        start += metre.quarters
    return tuple(found)


def _chorus(study: StudyChart) -> list[tuple[str, Metre, tuple[SoloChord, ...]]]:
    """Label, metre and chords of every bar of one chorus, without a pickup."""
    chart = study.chart
    chords: dict[int, list[SoloChord]] = {}
    for event in study.events:
        quarter = Fraction(4, event.metre.unit)
        chords.setdefault(event.chorus_bar, []).append(
            SoloChord(event.symbol, event.onset * quarter, event.duration * quarter, event.index)
        )
    found: list[tuple[str, Metre, tuple[SoloChord, ...]]] = []
    section, before = -1, -1
    for place in chart.unfold():
        bar = chart.bars[place.bar]
        if bar.is_pickup:
            continue
        opens = bar.section != section or place.bar <= before
        section, before = bar.section, place.bar
        found.append((place.section_label if opens else "", bar.metre, tuple(chords.get(place.index, ()))))
    return found
