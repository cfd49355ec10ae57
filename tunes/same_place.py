"""Every time a bar sounds: the events of one chorus that are the same place of the form. Pure.

A written bar sounds again in each pass through its repeat. Where a section is written out again under the same letter,
the same place of it counts too, if the chord and what was computed for it are the same; where the last bar of a
section leads elsewhere the second time, it is another place (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Hashable
from functools import lru_cache

from tunes.harmony.analysis.pipeline import Analysis
from tunes.harmony.charts import Chart


def every_time(chart: Chart, computed: Analysis, event: int) -> tuple[int, ...]:
    """Indices of the events that are the same place as `event`, itself included, in playing order."""
    events, places = chart.events(), _places(chart)
    mine, signed = events[event], _signature(chart, computed, event)
    return tuple(
        other.index
        for other in events
        if (other.bar, other.slot) == (mine.bar, mine.slot)
        or (
            places[event] is not None
            and places[other.index] == places[event]
            and _signature(chart, computed, other.index) == signed
        )
    )


def every_run(chart: Chart, computed: Analysis, first: int, last: int) -> tuple[tuple[int, int], ...]:
    """The runs of events that are the same places as `first` to `last` (both included), this one among them."""
    same = [frozenset(every_time(chart, computed, event)) for event in range(first, last + 1)]
    count = len(chart.events())
    return tuple(
        (start, start + last - first)
        for start in sorted(same[0])
        if start + last - first < count and all(start + i in found for i, found in enumerate(same))
    )


def sounds_again(chart: Chart, computed: Analysis) -> bool:
    """Whether any place of the chorus comes more than once."""
    return any(len(every_time(chart, computed, event.index)) > 1 for event in chart.events())


def _signature(chart: Chart, computed: Analysis, event: int) -> Hashable:
    reading, at = computed.readings[event], chart.events()[event]
    return at.symbol.text if at.symbol else at.text, reading.key.text, reading.function.numeral


@lru_cache(maxsize=128)
def _places(chart: Chart) -> tuple[Hashable, ...]:
    """Event → (section letter, bars since the section began, beat); None where a section has no letter."""
    at: dict[int, tuple[str, int]] = {}
    last: tuple[int, int] | None = None
    previous, offset = -1, 0
    for one in chart.unfold():
        mark = (chart.bars[one.bar].section, one.pass_no)
        offset = 0 if mark != last or one.bar <= previous else offset + 1
        at[one.index] = (one.section_label.rstrip("'’′0123456789 ") or one.section_label, offset)
        last, previous = mark, one.bar
    return tuple((*at[event.chorus_bar], event.onset) if at[event.chorus_bar][0] else None for event in chart.events())
