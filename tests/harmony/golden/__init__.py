"""Golden readings: what the engine says of charts of our own writing, as plain text, one line a chord.

    python -m tests.harmony.golden            writes again what has changed, and prints it
    python -m tests.harmony.golden --check    only says whether anything would change

A file of `charts/` holds a chart as typed, a line of dashes, and its reading. The readings are no truth, only the net: a change
of the engine shows here chord by chord and is looked at before it is kept. VERSION holds the engine's version that wrote them;
readings that differ while the version is the same are an error that no command can settle.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from tunes.harmony.analysis.pipeline import Analysis, Reading, analyse
from tunes.harmony.charts import Chart, Event, parse_chart
from tunes.harmony.explain.sentences import told
from tunes.harmony.form.sections import name_form
from tunes.harmony.scales.scales import scale_for

FOLDER = Path(__file__).resolve().parent / "charts"
VERSION = Path(__file__).resolve().parent / "VERSION"
RULE = "-" * 12


def files() -> list[Path]:
    return sorted(FOLDER.glob("*.txt"))


def split(path: Path) -> tuple[str, str]:
    """The chart as typed, and the reading that is kept ("" for a new chart)."""
    chart, _, reading = path.read_text(encoding="utf-8").partition(f"\n{RULE}\n")
    return chart.rstrip("\n"), reading


def written(text: str) -> str:
    """The reading of a chart text, as its file keeps it."""
    found = parse_chart(text)
    assert not found.problems, found.problems
    assert found.chart is not None
    return "\n".join(lines(found.chart, analyse(found.chart))) + "\n"


def lines(chart: Chart, found: Analysis) -> Iterator[str]:
    """Form, home and areas, then one line for each chord."""
    form, events = name_form(chart), chart.events()
    yield f"form: {form.name}{f' ({form.variant})' if form.variant else ''} {''.join(form.letters)}. {form.reason}"
    yield f"home: {found.home.text}"
    for area in found.areas:
        first, last = events[area.first].chorus_bar + 1, events[area.last].chorus_bar + 1
        yield f"bars {first} to {last}: {area.key.text}. {told(area.reason)}"
    for event, reading in zip(events, found.readings, strict=True):
        yield " | ".join(_parts(found, events, event, reading))


def _parts(found: Analysis, events: list[Event], event: Event, reading: Reading) -> Iterator[str]:
    function, ahead, left = reading.function, found.heading(event.index), found.landing[event.index]
    yield f"{event.chorus_bar + 1}.{float(event.onset) + 1:g} {event.symbol.text if event.symbol else 'N.C.'}"
    yield f"{reading.key.short}: {function.numeral} = {function.spoken}"
    yield f"{function.role}, {function.kind}, {reading.rule}"
    yield (
        reading.resolution
        if ahead is None
        else f"{reading.resolution} to bar {events[ahead].chorus_bar + 1}, {'-' if left is None else left} to go"
    )
    yield told(reading.reason)
    if event.symbol is not None:
        scale = scale_for(event.symbol, reading)
        also = f"; or {scale.also_name}" if scale.also else ""
        yield f"{scale.name}; tensions {' '.join(scale.tensions) or 'none'}{also}"
    yield from (f"or {other.function.spoken} in {other.key.short} ({other.margin:g})" for other in reading.alternatives)
    if reading.patterns:
        yield f"in {', '.join(reading.patterns)}"
