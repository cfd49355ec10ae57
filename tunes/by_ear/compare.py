"""A by-ear sheet beside the agreed chart: every chord marked by root, quality and function. Pure.

How two chords stand to each other is `tunes.harmony.comparison.substitutions`; here they are brought together beat by
beat, and the engine is asked what the heard changes would be if they were the chart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from tunes.by_ear.reading import BarReading, Sounding, heard_chart
from tunes.engine import analyse
from tunes.harmony.analysis.pipeline import Reading
from tunes.harmony.charts import Event
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.comparison.substitutions import ChordComparison, compare_chords
from tunes.harmony.pitch.spelling import NoteName
from tunes.study import StudyChart


@dataclass(frozen=True)
class ChordVerdict:
    """One agreed chord and what was heard in its place. `credit` from 0 to 1; `weight` is its beats."""

    event: Event
    reading: Reading
    heard: Sounding | None
    comparison: ChordComparison | None
    credit: float
    weight: Fraction
    engine: str = ""  # what the engine would call the heard chord here

    @property
    def agreed(self) -> ChordSymbol | None:
        return self.event.symbol

    @property
    def blank(self) -> bool:
        return self.heard is None

    @property
    def name(self) -> str:
        if self.blank:
            return "Left blank"
        if self.comparison is not None:
            return self.comparison.relation.name
        return "No chord, as agreed" if self.credit else "A chord against none"

    @property
    def sentence(self) -> str:
        return self.comparison.sentence if self.comparison else ""

    @property
    def stands(self) -> str:
        """ "same", "partly", "plausible", "other", "against" or "blank": whether a band may play what was heard."""
        if self.blank:
            return "blank"
        if self.comparison is None:
            return "same" if self.credit else "against"
        if self.comparison.function == "same":
            return "same"
        if self.comparison.relation.id == "bass-only":
            return "partly"
        if self.comparison.relation.plausible:
            return "plausible"
        return "against" if self.comparison.relation.id == "contradicts" else "other"

    @property
    def foreign(self) -> tuple[NoteName, ...]:
        return self.comparison.foreign if self.comparison else ()


@dataclass(frozen=True)
class Extra:
    """A chord heard between two agreed ones: `within` is the agreed chord that sounds there."""

    heard: Sounding
    within: ChordSymbol | None
    comparison: ChordComparison | None


@dataclass(frozen=True)
class BarVerdict:
    """One bar as drawn. `index` is its place in `chart.bars`, `number` the one it goes by, `besides` what stands beside it."""

    index: int
    number: int
    section: str
    verdicts: tuple[ChordVerdict, ...]
    extras: tuple[Extra, ...] = ()
    besides: str = ""

    @property
    def whole(self) -> bool:
        return all(verdict.credit == 1 for verdict in self.verdicts)


@dataclass(frozen=True)
class SheetVerdict:
    """The whole sheet: `score` weighs every chord by its beats; blanks count as nothing heard."""

    bars: tuple[BarVerdict, ...]
    score: float
    filled: int
    roots: int
    qualities: int
    functions: int
    asked: int

    @property
    def percent(self) -> int:
        return round(self.score * 100)


def compare_sheet(study: StudyChart, heard: Mapping[int, BarReading]) -> SheetVerdict:
    """Every written chord of the agreed chart, each asked once, beside what was heard there."""
    chart, count = study.chart, bar_count(study.chart)
    words = _engine_words(study, heard)
    first: dict[tuple[int, int], Event] = {}
    for event in study.events:
        first.setdefault((event.bar, event.slot), event)
    bars = []
    for index, bar in enumerate(chart.bars):
        if bar.is_pickup:
            continue
        reading = heard.get(index, BarReading())
        verdicts = tuple(
            _verdict(first[index, slot], study, reading, words)
            for slot in range(len(bar.slots))
            if (index, slot) in first
        )
        label = chart.sections[bar.section].label if chart.sections else ""
        bars.append(
            BarVerdict(index, count.first(index), label, verdicts, _extras(verdicts, reading), count.besides(index))
        )
    return _summed(tuple(bars))


def _engine_words(study: StudyChart, heard: Mapping[int, BarReading]) -> dict[tuple[int, Fraction], str]:
    """What the engine calls every heard chord when the heard changes are taken for the chart."""
    chart = heard_chart(study.chart, heard)
    if chart == study.chart:
        return {}
    analysis = analyse(chart)
    words: dict[tuple[int, Fraction], str] = {}
    for event in chart.events():
        reading = analysis.readings[event.index]
        words.setdefault((event.bar, event.onset), f"{reading.function.spoken} in {reading.key.display}")
    return words


def _verdict(
    event: Event, study: StudyChart, reading: BarReading, words: Mapping[tuple[int, Fraction], str]
) -> ChordVerdict:
    agreed = study.reading(event.index)
    sounding = reading.at(event.onset)
    if sounding is None:
        return ChordVerdict(event, agreed, None, None, 0.0, event.duration)
    comparison = _compared(event.symbol, sounding, agreed)
    if comparison is None:
        silent = event.symbol is None and sounding.chord is None and sounding.bass is None
        return ChordVerdict(event, agreed, sounding, None, 1.0 if silent else 0.0, event.duration)
    said = words.get((event.bar, sounding.start), "") if sounding.chord is not None else ""
    return ChordVerdict(event, agreed, sounding, comparison, comparison.relation.credit, event.duration, said)


def _compared(symbol: ChordSymbol | None, sounding: Sounding, agreed: Reading) -> ChordComparison | None:
    heard = sounding.chord or sounding.bass
    if symbol is None or heard is None:
        return None
    return compare_chords(symbol, heard, agreed.key, agreed.function)


def _extras(verdicts: tuple[ChordVerdict, ...], reading: BarReading) -> tuple[Extra, ...]:
    """Chords heard where the agreed chart has no new one."""
    onsets = {verdict.event.onset for verdict in verdicts}
    found = []
    for sounding in reading.soundings:
        if sounding.start in onsets or sounding.chord is None:
            continue
        before = [verdict for verdict in verdicts if verdict.event.onset <= sounding.start]
        within = before[-1] if before else None
        if within is None or within.agreed is None or within.heard is sounding:
            continue
        found.append(Extra(sounding, within.agreed, _compared(within.agreed, sounding, within.reading)))
    return tuple(found)


def _summed(bars: tuple[BarVerdict, ...]) -> SheetVerdict:
    verdicts = [verdict for bar in bars for verdict in bar.verdicts]
    weight = sum((verdict.weight for verdict in verdicts), Fraction(0))
    earned = sum(verdict.credit * float(verdict.weight) for verdict in verdicts)
    judged = [verdict.comparison for verdict in verdicts if verdict.comparison is not None]
    return SheetVerdict(
        bars=bars,
        score=earned / float(weight) if weight else 0.0,
        filled=sum(1 for verdict in verdicts if not verdict.blank),
        roots=sum(1 for comparison in judged if comparison.root),
        qualities=sum(1 for comparison in judged if comparison.root and comparison.quality),
        functions=sum(1 for comparison in judged if comparison.function in ("same", "similar")),
        asked=len(verdicts),
    )
