"""Kind "key-areas": from which bar does the tune stand in which key?  One question for the whole form."""

from __future__ import annotations

from typing import Any

from drills.questions.base import KeyJson, Options, Question
from drills.questions.places import places
from tunes.harmony.analysis import Analysis
from tunes.harmony.chart_model import Chart

KIND = "key-areas"


def areas_of(chart: Chart, analysis: Analysis) -> tuple[KeyJson, ...]:
    """Key areas by printed bar: neighbours in one key are one area, and a repeat is not counted again."""
    where = places(chart)
    found: list[KeyJson] = []
    last = ""
    for area in analysis.areas:
        key, bar = area.key.text, where[area.first].bar
        if key != last and not any(one["bar"] == bar and one["key"] == key for one in found):
            found.append({"bar": bar, "beat": where[area.first].beat, "key": key, "reason": area.reason})
        last = key
    return tuple(found)


def build_key_areas(study: Any, options: Options, seed: int) -> tuple[Question, ...]:
    """One question, answered with a bar and a key for every area."""
    areas = areas_of(study.chart, study.analysis)
    if not areas:
        return ()
    key: KeyJson = {"kind": KIND, "home": study.analysis.home.text, "areas": list(areas)}
    prompt = "From which bar does it stand in which key? Write each area, for example: 1 F, 9 Ab, 17 F."
    return (Question(f"{KIND}:all", KIND, prompt, None, None, key, {}, answer_form="lines"),)
