"""A chart written out as the bars of one chorus, so that one sounding of a bar can be changed and no other. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from tunes.engine import analyse
from tunes.harmony.charts import Bar, Chart, Section, Slot
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import Key
from tunes.study import StudyChart

Bars = Mapping[int, tuple[Slot, ...]]
"""Indices of bars of a chorus and what is played in them."""


def flat(chart: Chart, key: Key | None = None) -> Chart:
    """The chorus bar by bar: no repeats, no jumps; bars numbered as played, events in the order and with the indices that
    they have in `chart`. `key` is set where the chart states none."""
    numbers = bar_count(chart).chorus
    bars: list[Bar] = []
    sections: list[Section] = []
    last = -1
    for place, number in zip(chart.unfold(), numbers, strict=True):
        old = chart.bars[place.bar]
        begins = old.section != (chart.bars[last].section if last >= 0 else None)
        if begins or place.bar <= last or not sections:
            sections.append(Section(place.section_label, len(bars), 0))
        sections[-1] = replace(sections[-1], bars=sections[-1].bars + 1)
        bars.append(_plain(old, number, len(sections) - 1))
        last = place.bar
    return replace(chart, bars=tuple(bars), sections=tuple(sections), key=chart.key or key)


def _plain(bar: Bar, number: int, section: int) -> Bar:
    return Bar(
        tuple(_spelled_out(slot) for slot in bar.slots), bar.metre, number, section, bar.length,
        double_end=bar.double_end, comment=bar.comment,
    )  # fmt: skip


def _spelled_out(slot: Slot) -> Slot:
    """A chord that is held over the bar line, by its own name."""
    return replace(slot, text=slot.symbol.text) if slot.is_held and slot.symbol else slot


def with_bars(chart: Chart, bars: Bars) -> Chart:
    """The chorus with other chords in some bars; each bar keeps its length and number."""
    return replace(chart, bars=tuple(replace(bar, slots=bars.get(at, bar.slots)) for at, bar in enumerate(chart.bars)))


def evenly(symbols: tuple[ChordSymbol, ...], start: Fraction, duration: Fraction) -> tuple[Slot, ...]:
    """Chords of equal length in a stretch of a bar."""
    share = duration / len(symbols)
    return tuple(Slot(symbol, start + at * share, share, symbol.text) for at, symbol in enumerate(symbols))


def study_of(chart: Chart) -> StudyChart:
    """The chorus with a reading of its own: a chord that is put in is heard with what stands around it."""
    analysis = analyse(chart)
    return StudyChart(chart=chart, computed=analysis, analysis=analysis)
