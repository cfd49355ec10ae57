"""Print the whole reading of a chart text. The last figure of a line counts the resolutions still to come, as promised.

    python -m tunes.harmony FILE.txt [FILE.txt …] [--trace]     ("-" reads standard input)

`--trace` prints how each label arose: the goal with how sure it is and the next best, the key and the next best, and the name that
every pass of the analysis has set or changed; last the sentence and the scale.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from tunes.harmony.analysis.passes.draft import Draft
from tunes.harmony.analysis.pipeline import Analysis, analyse, trace
from tunes.harmony.charts import Chart, parse_chart
from tunes.harmony.explain.sentences import told
from tunes.harmony.form.sections import name_form
from tunes.harmony.scales.scales import scale_for


def lines_of(chart: Chart, analysis: Analysis) -> Iterator[str]:
    """One line for each chord, after the key areas."""
    events = chart.events()
    form = name_form(chart)
    yield f"form: {form.name}{f' ({form.variant})' if form.variant else ''}"
    yield f"home key: {analysis.home.text} (engine {analysis.engine})"
    for area in analysis.areas:
        first, last = events[area.first].chorus_bar + 1, events[area.last].chorus_bar + 1
        yield f"  bars {first}-{last}: {area.key.text}. {told(area.reason)}"
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
        yield f"       {told(reading.reason)}  [{reading.rule}] {', '.join(reading.patterns)}"
        for other in reading.alternatives:
            yield f"         or {other.function.numeral} in {other.key.short} (by {other.margin:g}): {told(other.reason)}"


def _name(chart: Chart, event: int) -> str:
    found = chart.events()[event]
    return f"{found.symbol.text if found.symbol else 'N.C.'} in bar {found.chorus_bar + 1}"


def history(chart: Chart) -> Iterator[str]:
    """For every chord what each pass has set or changed, in the order of the passes."""
    rows_of: list[list[str]] = [[] for _ in chart.events()]
    before: list[dict[str, str]] = [{} for _ in rows_of]
    last: Draft | None = None
    for one, draft in trace(chart):
        last = draft
        for event, said in enumerate(_state(chart, draft, event) for event in range(len(rows_of))):
            new = [f"{name} {value}" for name, value in said.items() if before[event].get(name) != value]
            rows_of[event] += [f"{one.name:<22} {', '.join(new)}"] if new else []
            before[event] = said
    for index, rows in enumerate(rows_of):
        yield f"{_name(chart, index)}{f', named by {last.set_by[index]}' if last else ''}"
        yield from (f"    {row}" for row in rows)
        if last and (symbol := chart.events()[index].symbol) is not None:
            reading = last.readings[index]
            scale = scale_for(symbol, reading)
            yield f"    {told(reading.reason)} {scale.root.display} {scale.name}. {scale.reason}"


def _state(chart: Chart, draft: Draft, event: int) -> dict[str, str]:
    """What a draft says of one chord."""
    if event not in draft.stretch_of:
        return {}
    index = draft.stretch_of[event]
    goal, said = draft.goal_event(event), {}
    said["goal"] = "none" if goal is None else f"{_name(chart, goal)} by {draft.bones.moves[index]}"
    said["sure"] = f"{draft.bones.sure[index]:.0%}{_rival(chart, draft, index)}"
    if draft.keys:
        said["key"] = draft.key_names.key(draft.keys[index]).text
        if draft.ranked and len(draft.ranked[index]) > 1:
            cost, key = draft.ranked[index][1]
            said["next key"] = f"{draft.key_names.key(key).text} for {cost:.1f} more"
    if draft.readings:
        reading = draft.readings[event]
        said |= {
            "name": reading.function.numeral,
            "rule": reading.rule,
            "way": reading.resolution,
            "others": str(len(reading.alternatives)),
        }
    elif draft.labels and (found := draft.labels[event]) is not None:
        said |= {"name": found.function.numeral, "rule": found.rule, "way": found.resolution}
    if draft.landing:
        said["to go"] = str(draft.landing[event])
    return said


def _rival(chart: Chart, draft: Draft, index: int) -> str:
    """The next best goal of a stretch, where there is one."""
    rival = draft.bones.rival[index]
    return "" if rival is None else f", else {_name(chart, draft.bones.chords[max(rival, 0)].first)}"


def main(arguments: list[str]) -> int:
    """Print the readings of the files; 1 when one of them is no chart."""
    failed, tracing = 0, "--trace" in arguments
    for path in (argument for argument in arguments if argument != "--trace"):
        text = sys.stdin.read() if path == "-" else Path(path).read_text(encoding="utf-8")
        found = parse_chart(text)
        for problem in found.problems:
            print(f"{path}: line {problem.line}, bar {problem.bar}: {problem.message}")
        if found.chart is None:
            failed = 1
            continue
        told = history(found.chart) if tracing else lines_of(found.chart, analyse(found.chart))
        print("\n".join([f"== {found.chart.title or path}", *told]))
    return failed


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
