"""The form that recordings of a tune are mapped on: the agreed chart's, else any chart's."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from tunes.harmony.charts import Chart, parse_chart
from tunes.harmony.charts.bar_count import bar_count
from tunes.models import ChartRevision, Tune


@dataclass(frozen=True)
class FormBar:
    """One bar of a chorus as played. `number` counts from 1; `opens` when a section begins here, and `besides` says there
    under which number it is written, where that is another."""

    number: int
    label: str
    opens: bool
    chords: tuple[str, ...]
    besides: str = ""


@lru_cache(maxsize=256)
def _read(text: str) -> Chart | None:
    return parse_chart(text).chart


def form_revision(tune: Tune) -> ChartRevision | None:
    """The newest revision of the agreed chart, else of the oldest version. One query."""
    return (
        ChartRevision.objects.filter(version__tune=tune)
        .order_by("-version__is_agreed", "version_id", "-number")
        .select_related("version")
        .first()
    )


def form_chart(tune: Tune) -> Chart | None:
    """The chart itself, None when there is none. One query."""
    row = form_revision(tune)
    return _read(row.text) if row is not None else None


def form_bars(chart: Chart | None) -> tuple[FormBar, ...]:
    """Every bar of one chorus, pickup left out."""
    if chart is None:
        return ()
    numbers, out = bar_count(chart).chorus, list[FormBar]()
    section, last_bar = -1, -1
    for place in chart.unfold():
        bar = chart.bars[place.bar]
        if bar.is_pickup:
            continue
        opens = bar.section != section or place.bar <= last_bar
        section, last_bar = bar.section, place.bar
        chords = tuple(slot.symbol.display if slot.symbol else slot.text for slot in bar.slots)
        number = numbers[place.index]
        besides = f"written {bar.number}" if opens and bar.number != number else ""
        out.append(FormBar(number, place.section_label, opens, chords, besides))
    return tuple(out)
