"""Charts: the types, the reader and the writer, in one place to import from."""

from __future__ import annotations

from tunes.harmony.charts.bars import BLANK, COMMON_TIME, HELD, Bar, ChorusBar, Event, Metre, Section, Slot
from tunes.harmony.charts.model import Chart
from tunes.harmony.charts.reader import ChartReading, parse_chart
from tunes.harmony.charts.writer import chart_in_key, make_chart, transpose_chart, write_chart

__all__ = [
    "BLANK",
    "COMMON_TIME",
    "HELD",
    "Bar",
    "Chart",
    "ChartReading",
    "ChorusBar",
    "Event",
    "Metre",
    "Section",
    "Slot",
    "chart_in_key",
    "make_chart",
    "parse_chart",
    "transpose_chart",
    "write_chart",
]
