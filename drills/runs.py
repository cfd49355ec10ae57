"""Where the progressions that the programme has named occur in a chart, as parts of it to practise."""

from __future__ import annotations

from collections.abc import Iterable

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
    found: dict[str, str] = {}  # words → events: the same bars of a repeat are one part
    for hit in find_idioms(study.analysis, readable, cyclic=False) if readable else ():
        first, last = (study.chart.bars[study.events[event].bar].number for event in (hit.first, hit.last))
        found.setdefault(f"{names[hit.idiom]}, {_where(first, last)}", f"{hit.first}-{hit.last}")
    return [(events, words) for words, events in found.items()]


def _where(first: int, last: int) -> str:
    """Bars as printed; a run through a repeat sign goes back to an earlier number, and says so."""
    if last < first:
        return f"bar {first} and by the repeat to bar {last}"
    return f"bar {first}" if first == last else f"bars {first} to {last}"
