"""Where the progressions that the programme has named occur in a chart, as parts of it to practise."""

from __future__ import annotations

from collections.abc import Iterable

from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.progressions.idioms import find_idioms
from tunes.harmony.progressions.table import make_idiom
from tunes.models import Idiom
from tunes.study import StudyChart


def runs(study: StudyChart, named: Iterable[Idiom]) -> list[tuple[str, str]]:
    """("first-last" events, words) of every occurrence, in order; one through the repeat of the form is left out."""
    readable = []
    for idiom in named:
        try:
            readable.append(make_idiom(str(idiom.pk), idiom.name, idiom.pattern))
        except ValueError:  # a pattern from before a change of the notation
            continue
    names = {idiom.id: idiom.name for idiom in readable}
    found: dict[tuple[object, ...], tuple[str, str]] = {}  # by the bars as drawn: those of a repeat are one part
    for hit in find_idioms(study.analysis, readable, cyclic=False) if readable else ():
        drawn = (hit.idiom, *((event.bar, event.slot) for event in study.events[hit.first : hit.last + 1]))
        words = f"{names[hit.idiom]}, {bar_count(study.chart).stretch_at(hit.first, hit.last)}"
        found.setdefault(drawn, (f"{hit.first}-{hit.last}", words))
    return list(found.values())
