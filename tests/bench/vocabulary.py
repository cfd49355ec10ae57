"""Carrying lines over 10,000 charts: time to find every place with its room, and to build the first fifty.

    python -m tests.bench.vocabulary CHARTS.json

CHARTS.json as for `tests.bench.idioms`; nothing of it enters the project. Ratios are to the search for the bare progression.
"""

from __future__ import annotations

import json
from fractions import Fraction
from itertools import cycle
from statistics import median
from typing import Any

from drills.vocabulary import CutLine, VocabularyIndex, cut
from drills.vocabulary.rooms import Rooms, rooms_of
from tests.bench.given import given
from tests.bench.idioms import chart_of, milliseconds, moved
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.charts import parse_chart
from tunes.harmony.readings.reading import Analysis
from tunes.melody import Note, changes_of

CHARTS = 10_000
SAMPLE = 500
PAGE = 50
SOURCES = (
    ("| Dm7 | G7 | Cmaj7 | % |", (62, 65, 69, 72, 71, 68, 67, 65, 64), (0, 1, 2, 3, 8, 9, 10, 11, 16)),
    ("| Dm7 G7 | Cmaj7 |", (65, 64, 62, 60, 59, 64), (0, 1, 2, 3, 4, 8)),
    ("| Dm7b5 | G7 | Cm7 | % |", (65, 68, 72, 71, 68, 65, 63), (0, 2, 4, 8, 10, 12, 16)),
    ("| G7 | Cmaj7 |", (71, 74, 77, 76, 72), (2, 4, 6, 8, 10)),
    ("| G7 | Cm7 | % |", (71, 68, 65, 63), (4, 5, 6, 8)),
    ("| C7 | F7 |", (64, 67, 70, 69), (4, 5, 6, 8)),
)
"""Chart, pitches and onsets in quavers: invented."""


def lines() -> list[CutLine]:
    found = []
    for text, pitches, onsets in SOURCES:
        chart = parse_chart(text).chart
        changes, grid = changes_of(chart, analyse(chart))
        notes = [Note(Fraction(on, 2), Fraction(1, 2), midi) for on, midi in zip(onsets, pitches, strict=True)]
        found.append(cut(notes, changes, grid, 0, len(notes) - 1))
    return found


def corpus(rows: list[dict[str, Any]]) -> list[tuple[Rooms, Analysis]]:
    """10,000 charts: a sample of real ones in every key."""
    charts = [chart for row in rows if (chart := chart_of(row)) is not None]
    wanted = charts[:: max(1, len(charts) // SAMPLE)][:SAMPLE]
    known = [(rooms_of(chart), analyse(chart)) for chart in wanted]
    found: list[tuple[Rooms, Analysis]] = []
    for n, (rooms, analysis) in enumerate(cycle(known)):
        if len(found) == CHARTS:
            break
        up = n // len(known) % 12
        roots = rooms.roots[:]
        for place, root in enumerate(roots):
            roots[place] = (root + up) % 12 if root >= 0 else root
        again = Rooms(
            rooms.starts,
            rooms.in_bar,
            rooms.bars,
            roots,
            rooms.events,
            rooms.run_of,
            rooms.length,
            rooms.symbols,
            rooms.against,
        )
        found.append((again, moved(analysis, up, 0, len(analysis.readings))))
    return found


def main() -> None:
    with open(given("CHARTS.json, a list of charts with measures, beats, chords and meter"), encoding="utf-8") as file:
        rows = json.load(file)
    index: VocabularyIndex[int] = VocabularyIndex()
    for n, (rooms, analysis) in enumerate(corpus(rows if isinstance(rows, list) else rows["charts"])):
        index.file(n, rooms, analysis)
    print(f"{len(index)} charts")
    whole = []
    for line in lines():
        bare = milliseconds(lambda line=line: index._index.find(line.idiom))
        took = min(milliseconds(lambda line=line: index.find(line)) for _ in range(3))
        places = index.find(line)
        page = milliseconds(lambda places=places: places[:PAGE])
        whole.append(took + page)
        print(
            f"{line.functions:45s} {len(places):6d} places, {places.fitting:6d} fit; bare search {bare:5.1f} ms, with room {took:5.1f} ms "
            f"({took / bare:.1f} x), first {PAGE} built {page:4.1f} ms"
        )
    print(f"found and first page, median {median(whole):.0f} ms, most {max(whole):.0f} ms")


if __name__ == "__main__":
    main()
