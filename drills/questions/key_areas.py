"""Kind "key-areas": from which bar does the tune stand in which key?  One question for the whole form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from drills.questions.base import KeyJson, Options, Question
from drills.questions.places import places
from tunes.harmony.analysis.pipeline import Analysis
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.charts.model import Chart

KIND = "key-areas"


PROMPT = (
    "From which bar does it stand in which key? For example: 1 F, 9 Ab, 17 F. "
    "The bar is enough; inside a bar the beat may be added: 9 beat 3 Ab."
)
TWO_COUNTS = " Bars count as played; all of them as written on the chart is read as well."


def areas_of(chart: Chart, analysis: Analysis) -> tuple[KeyJson, ...]:
    """Key areas by printed bar: neighbours in one key are one area, and a repeat is not counted again."""
    where = places(chart)
    found: list[KeyJson] = []
    last = ""
    for area in analysis.areas:
        key, bar = area.key.text, where[area.first].bar
        if key != last and not any(one["bar"] == bar and one["key"] == key for one in found):
            place = where[area.first]
            found.append({"bar": bar, "played": place.played, "beat": place.beat, "key": key})
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


def with_both_counts(key: KeyJson, chart: Chart) -> KeyJson:
    """A stored key that knows only printed bars (from before both counts were read), with the bars as played beside them.

    Worked out from the chart alone: the key at the bar that a repeat goes back to is the one that held there the first
    time. A key that has both counts, or a chart where they are one, is given back as it is.
    """
    if "as_played" in key or not bar_count(chart).folded:
        return key
    rows: dict[int, list[KeyJson]] = {}
    for row in key["areas"]:
        rows.setdefault(int(row["bar"]), []).append(row)
    found, at, first = _walked(chart, rows)
    areas = [row | {"played": first.get(int(row["bar"]), int(row["bar"]))} for row in key["areas"]]
    return {**key, "areas": areas, "as_played": found} if at else key


def _walked(chart: Chart, rows: Mapping[int, Sequence[KeyJson]]) -> tuple[list[KeyJson], str, dict[int, int]]:
    """The areas along one chorus, the key at its end, and each printed bar's number as played when it first comes."""
    found: list[KeyJson] = []
    now, previous = "", -1
    began: dict[int, str] = {}
    first: dict[int, int] = {}
    for one, played in zip(chart.unfold(), bar_count(chart).chorus, strict=True):
        number = chart.bars[one.bar].number
        starts = [("1", began.get(one.bar, now))] if one.bar <= previous else []
        began.setdefault(one.bar, now)
        first.setdefault(number, played)
        here = [(str(row.get("beat", "1")), str(row["key"])) for row in rows.get(number, ())]
        for beat, name in [*starts, *here] if not here or here[0][0] != "1" else here:
            if name and name != now:
                found.append({"bar": played, "written": number, "beat": beat, "key": name})
                now = name
        previous = one.bar
    return found, now, first


def build_key_areas(study: Any, options: Options, seed: int) -> tuple[Question, ...]:
    """One question, answered with a bar and a key for every area."""
    areas = areas_of(study.chart, study.analysis)
    if not areas:
        return ()
    key: KeyJson = {"kind": KIND, "home": study.analysis.home.text, "areas": list(areas)}
    folded = bar_count(study.chart).folded
    if folded:
        key["as_played"] = list(areas_as_played(study.chart, study.analysis))
    prompt = PROMPT + (TWO_COUNTS if folded else "")
    return (Question(f"{KIND}:all", KIND, prompt, None, None, key, {}, answer_form="lines"),)
