"""A study chart as the body of an answer: one row per chord of one chorus. Pure."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from tunes.harmony.charts import Chart
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.explain.sentences import told
from tunes.harmony.problems import Problem
from tunes.study import StudyChart


def problem_body(problem: Problem, chart: Chart | None) -> dict[str, Any]:
    """`ProblemSerializer`'s shape; without a chart a bar has no number as played but the written one."""
    at_bar = chart is not None and problem.bar >= 0
    played = bar_count(chart).sounding_of(problem.bar) if at_bar else problem.bar
    return asdict(problem) | {"bar": played, "written_bar": problem.bar}


def analysis_body(study: StudyChart) -> dict[str, Any]:
    """`AnalysisSerializer`'s shape. Beats count the unit of the bar's metre; bars as played, a pickup is 0."""
    analysis = study.analysis
    return {
        "home": analysis.home.text,
        "engine": analysis.engine,
        "areas": [area.to_json() | {"reason": told(area.reason)} for area in analysis.areas],
        "chords": [_chord(study, index) for index in range(len(study.events))],
    }


def _chord(study: StudyChart, index: int) -> dict[str, Any]:
    event, reading = study.events[index], study.analysis.readings[index]
    overruled, count = study.overridden.get(index), bar_count(study.chart)
    return {
        "event": index,
        "bar": count.events[index],
        "written_bar": count.written[event.bar],
        "beat": float(event.onset) + 1,
        "beats": float(event.duration),
        "chord": event.symbol.text if event.symbol else "",
        "key": reading.key.text,
        "function": reading.function.to_json(),
        "resolves_to": reading.resolves_to,
        "resolution": reading.resolution,
        "rule": reading.rule,
        "reason": told(reading.reason),
        "landing": study.analysis.landing[index],
        "overruled_by": overruled.by if overruled else None,
        "computed": _computed(study, index),
        "alternatives": [other.to_json() | {"reason": told(other.reason)} for other in reading.alternatives],
    }


def _computed(study: StudyChart, index: int) -> dict[str, Any] | None:
    """What the engine says of a chord where a person says otherwise, of it or of its key area; None elsewhere."""
    computed = study.computed.readings[index]
    if computed == study.analysis.readings[index]:
        return None
    return {
        "key": computed.key.text,
        "function": computed.function.to_json(),
        "rule": computed.rule,
        "reason": told(computed.reason),
    }
