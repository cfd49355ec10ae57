"""A study chart as the body of an answer: one row per chord of one chorus. Pure."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from tunes.harmony.explain.sentences import told
from tunes.harmony.problems import Problem
from tunes.study import StudyChart


def problem_body(problem: Problem) -> dict[str, Any]:
    return asdict(problem)


def analysis_body(study: StudyChart) -> dict[str, Any]:
    """`AnalysisSerializer`'s shape. Beats count the unit of the bar's metre; bars count the chorus from 1."""
    analysis = study.analysis
    return {
        "home": analysis.home.text,
        "engine": analysis.engine,
        "areas": [area.to_json() | {"reason": told(area.reason)} for area in analysis.areas],
        "chords": [_chord(study, index) for index in range(len(study.events))],
    }


def _chord(study: StudyChart, index: int) -> dict[str, Any]:
    event, reading = study.events[index], study.analysis.readings[index]
    overruled = study.overridden.get(index)
    return {
        "event": index,
        "bar": event.chorus_bar + 1,
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
