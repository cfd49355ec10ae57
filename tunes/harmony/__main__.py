"""Print the whole reading of a chart text. The last figure of a line counts the resolutions still to come, as promised.

    python -m tunes.harmony FILE.txt [FILE.txt …]     ("-" reads standard input)
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from tunes.harmony.analysis.pipeline import Analysis, analyse
from tunes.harmony.charts import Chart, parse_chart
from tunes.harmony.form.sections import name_form


def lines_of(chart: Chart, analysis: Analysis) -> Iterator[str]:
    """One line for each chord, after the key areas."""
    events = chart.events()
    form = name_form(chart)
    yield f"form: {form.name}{f' ({form.variant})' if form.variant else ''}"
    yield f"home key: {analysis.home.text} (engine {analysis.engine})"
    for area in analysis.areas:
        first, last = events[area.first].chorus_bar + 1, events[area.last].chorus_bar + 1
        yield f"  bars {first}-{last}: {area.key.text}. {area.reason}"
    for event, reading, left in zip(events, analysis.readings, analysis.landing, strict=True):
        symbol = event.symbol.text if event.symbol else "N.C."
        ahead = analysis.heading(reading.event)
        goal = "" if ahead is None else f"-> {_name(chart, ahead)} ({reading.resolution})"
        where = f"{event.chorus_bar + 1}.{float(event.onset) + 1:g}"
        function = reading.function
        yield (
            f"{where:>6} {symbol:<10} {reading.key.short:<4} {function.numeral:<12} {function.spoken:<22} "
            f"{function.role:<11} {function.kind:<22} {goal:<24} {'-' if left is None else left}"
        )
        yield f"       {reading.reason}  [{reading.rule}] {', '.join(reading.patterns)}"
        for other in reading.alternatives:
            yield f"         or {other.function.numeral} in {other.key.short} (by {other.margin:g}): {other.reason}"


def _name(chart: Chart, event: int) -> str:
    found = chart.events()[event]
    return f"{found.symbol.text if found.symbol else 'N.C.'} in bar {found.chorus_bar + 1}"


def main(paths: list[str]) -> int:
    """Print the readings of the files; 1 when one of them is no chart."""
    failed = 0
    for path in paths:
        text = sys.stdin.read() if path == "-" else Path(path).read_text(encoding="utf-8")
        found = parse_chart(text)
        for problem in found.problems:
            print(f"{path}: line {problem.line}, bar {problem.bar}: {problem.message}")
        if found.chart is None:
            failed = 1
            continue
        print("\n".join([f"== {found.chart.title or path}", *lines_of(found.chart, analyse(found.chart))]))
    return failed


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
