"""A chart and its analysis as plain text, for mail, for paper, for anything that shows monospaced letters."""

from __future__ import annotations

from tunes.harmony.analysis.pipeline import Analysis
from tunes.harmony.charts import Chart, write_chart
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.chords import NO_CHORD


def write_plain(chart: Chart, analysis: Analysis | None = None, *, title: str = "", composer: str = "") -> str:
    """The chart text, then, if there is an analysis, every bar of one chorus with the numbers players say."""
    heading = [line for line in (title, composer and f"by {composer}") if line]
    parts = ["\n".join(heading)] if heading else []
    parts.append(write_chart(chart))
    if analysis is not None:
        parts.append(_functions(chart, analysis))
    return "\n\n".join(parts) + "\n"


def _functions(chart: Chart, analysis: Analysis) -> str:
    rows: list[tuple[str, str, str]] = []
    count = bar_count(chart)
    last_key, last_bar = None, None
    for event in chart.events():
        reading = analysis.readings[event.index]
        bar = str(count.events[event.index]) if event.chorus_bar != last_bar else ""
        key = f"  in {reading.key.text}" if reading.key != last_key else ""
        last_key, last_bar = reading.key, event.chorus_bar
        symbol = event.symbol.text if event.symbol else NO_CHORD
        words = f"{reading.function.numeral}  ({reading.function.spoken}){key}" if event.symbol else ""
        rows.append((bar, symbol, words))
    wide = max((len(symbol) for _bar, symbol, _words in rows), default=0)
    lines = [f"{bar:>4}  {symbol:<{wide}}  {words}".rstrip() for bar, symbol, words in rows]
    return "\n".join([f"Bar by bar as played, in {analysis.home.text}:", *lines])
