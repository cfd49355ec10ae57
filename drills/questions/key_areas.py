"""Kind "key-areas": from which bar does the tune stand in which key?  One question for the whole form."""

from __future__ import annotations

from typing import Any

from drills.questions.base import KeyJson, Options, Question
from drills.questions.places import places
from tunes.harmony.analysis import Analysis
from tunes.harmony.bar_count import played_by_written
from tunes.harmony.chart_model import Chart

KIND = "key-areas"


PROMPT = (
    "From which bar does it stand in which key? For example: 1 F, 9 Ab, 17 F. "
    "The bar is enough; inside a bar the beat may be added: 9 beat 3 Ab."
)
TWO_COUNTS = " Bars count as written on the chart, or all of them as played."


def areas_of(chart: Chart, analysis: Analysis) -> tuple[KeyJson, ...]:
    """Key areas by printed bar: neighbours in one key are one area, and a repeat is not counted again."""
    where = places(chart)
    found: list[KeyJson] = []
    last = ""
    for area in analysis.areas:
        key, bar = area.key.text, where[area.first].bar
        if key != last and not any(one["bar"] == bar and one["key"] == key for one in found):
            place = where[area.first]
            found.append({"bar": bar, "played": place.played, "beat": place.beat, "key": key, "reason": area.reason})
        last = key
    return tuple(found)


def areas_as_played(chart: Chart, analysis: Analysis) -> tuple[KeyJson, ...]:
    """Key areas of the chorus as it is played, repeats counted; `bar` is the number as played, `written` the printed one."""
    where = places(chart)
    found: list[KeyJson] = []
    for area in analysis.areas:
        place = where[area.first]
        if not found or found[-1]["key"] != area.key.text:
            found.append({"bar": place.played, "written": place.bar, "beat": place.beat, "key": area.key.text})
    return tuple(found)


def build_key_areas(study: Any, options: Options, seed: int) -> tuple[Question, ...]:
    """One question, answered with a bar and a key for every area."""
    areas = areas_of(study.chart, study.analysis)
    if not areas:
        return ()
    key: KeyJson = {"kind": KIND, "home": study.analysis.home.text, "areas": list(areas)}
    folded = bool(played_by_written(study.chart))
    if folded:
        key["as_played"] = list(areas_as_played(study.chart, study.analysis))
    prompt = PROMPT + (TWO_COUNTS if folded else "")
    return (Question(f"{KIND}:all", KIND, prompt, None, None, key, {}, answer_form="lines"),)
