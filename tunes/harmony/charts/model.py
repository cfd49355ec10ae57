"""The chart itself: bars and sections, one chorus of them, and the chords of that chorus as events."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from tunes.harmony.charts.bars import COMMON_TIME, Bar, ChorusBar, Event, Metre, Section
from tunes.harmony.charts.unfold import unfold_bars
from tunes.harmony.pitch.spelling import Key


@dataclass(frozen=True, slots=True)
class Chart:
    """A whole chart. `headers` keeps every other "word: text" line of its heading, in order."""

    bars: tuple[Bar, ...] = ()
    sections: tuple[Section, ...] = ()
    key: Key | None = None
    metre: Metre = COMMON_TIME
    title: str = ""
    headers: tuple[tuple[str, str], ...] = ()
    closing_notes: tuple[str, ...] = ()

    def unfold(self) -> tuple[ChorusBar, ...]:
        """One chorus in playing order: repeats, endings, coda and jumps followed."""
        return _unfolded(self)

    def events(self) -> tuple[Event, ...]:
        """The chords of one chorus, one per typed slot; a repeated bar copies its slots."""
        return _events(self)

    @property
    def form_bars(self) -> int:
        """Written bars, pickup left out."""
        return sum(1 for bar in self.bars if not bar.is_pickup)


@lru_cache(maxsize=512)
def _unfolded(chart: Chart) -> tuple[ChorusBar, ...]:
    order = unfold_bars(chart.bars, chart.sections)
    return tuple(
        ChorusBar(index, bar, pass_no, chart.sections[chart.bars[bar].section].label if chart.sections else "")
        for index, (bar, pass_no) in enumerate(order)
    )


@lru_cache(maxsize=512)
def _events(chart: Chart) -> tuple[Event, ...]:
    events: list[Event] = []
    for place in _unfolded(chart):
        bar = chart.bars[place.bar]
        for slot_index, slot in enumerate(bar.slots):
            events.append(
                Event(len(events), slot.symbol, place.bar, slot_index, place.index,
                      slot.start, slot.duration, bar.metre, slot.text)
            )  # fmt: skip
    return tuple(events)
