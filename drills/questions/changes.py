"""Kind "changes": the chord of every bar by ear, the chart hidden; first the bass alone or the whole chord.

``context`` shows where the chord stands and never which it is.
"""

from __future__ import annotations

from typing import Any

from drills.questions.base import KeyJson, Options, Question
from drills.questions.places import places
from tunes.harmony.analysis import Analysis
from tunes.harmony.bars import Event
from tunes.harmony.chart_model import Chart

KIND = "changes"
BASS = "bass"


def build_changes(study: Any, options: Options, seed: int) -> tuple[Question, ...]:
    """One question for every chord as it is played; with ``options.part`` "bass" the bass note alone is asked."""
    chart: Chart = study.chart
    where = places(chart)
    made = []
    for event in chart.events():
        place = where[event.index]
        if event.text in ("?", "/") or (options.bars and place.bar not in options.bars):
            continue
        key = changes_key(study.analysis, event, options.part)
        key |= {"bar": place.bar, "beat": place.beat, "pass": place.pass_no}
        asked = "which bass note" if options.part == BASS else "which chord"
        context = {"section": place.section, "beat": place.beat, "part": options.part}
        made.append(Question(f"{KIND}:{event.index}", KIND, f"{place.text}: {asked} do you hear?", event.index, place.bar, key, context))
    return tuple(made)


def changes_key(analysis: Analysis, event: Event, part: str = "") -> KeyJson:
    """The stored key of one chord: the agreed symbol, its key and its function."""
    reading = analysis.readings[event.index]
    return {
        "kind": KIND, "event": event.index, "part": part, "chord": event.symbol.text if event.symbol else "N.C.",
        "home": analysis.home.text, "key": reading.key.text, "expected": reading.function.to_json(),
    }  # fmt: skip
