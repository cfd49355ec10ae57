"""Where the progressions that the programme has named occur in a chart, as parts of it to practise."""
from __future__ import annotations

from collections.abc import Iterable

from tunes.harmony.idiom_table import make_idiom
from tunes.harmony.idioms import find_idioms
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
    found = []
    for hit in find_idioms(study.analysis, readable, cyclic=False) if readable else ():
        first, last = (study.chart.bars[study.events[event].bar].number for event in (hit.first, hit.last))
        where = f"bar {first}" if first == last else f"bars {first} to {last}"
        found.append((f"{hit.first}-{hit.last}", f"{names[hit.idiom]}, {where}"))
    return found
