"""The idiom index over 10,000 charts: time of a first search against what it finds and against the number of charts.

    python -m tests.bench.idioms CHARTS.json

CHARTS.json is a list of charts with "measures", "beats", "chords", "meter" (a dict with numerator and denominator); nothing
of it enters the project. Charts are analysed, then transposed and cut until there are 10,000. A search is measured three
ways: finding all places (and so their number and charts), with the first fifty built for a page, and with every one built.
"""

from __future__ import annotations

import gc
import json
import random
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import cycle
from typing import Any

from tests.bench.given import given
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.charts import Chart, parse_chart
from tunes.harmony.pitch.spelling import NoteName
from tunes.harmony.progressions.idioms import BUILT_IN, Idiom, find_idioms, make_idiom
from tunes.harmony.progressions.index import IdiomIndex
from tunes.harmony.readings.reading import Analysis, Reading

CHARTS = 10_000
PARTS = (2_500, 5_000, CHARTS)
SAMPLE = 500
PAGE = 50
OWN = (
    "6min 2dom 5dom", "4maj 4min 3min", "2min b2dom 1maj", "3dom 6min", "5dom 1min 4dom", "6min 2min 5dom 1maj",
    "b6maj 5dom 1min", "home: 4maj b7dom 1maj", "5min 1dom 4maj",
    "2min|2half|2m7 5dom", "1maj 6dom|6min 2min 5dom 1maj", "1maj 4maj", "home: 3half 6dom 2min", "4maj #4dim 1",
    "1maj7 * 2m7", "2min 5dom * 6dom", "5/6 6min", "home: 2dom 2min 5dom", "b6dom 5dom 1min", "1maj * 1maj", "2 5 1",
    "(6dom) 2m7 57 (1maj7) 4", "sub5/5 5dom 1maj", "open: 2half 5dom", "1min 1m7 4dom|4min",
)  # fmt: skip
"""Patterns that no table holds, as a class might type them."""


def chart_of(row: dict[str, Any]) -> Chart | None:
    """A corpus row as a chart, every chord placed on its beat."""
    meter = row["meter"]
    bars: dict[int, list[str]] = {}
    for measure, beat, chord in zip(row["measures"], row["beats"], row["chords"], strict=True):
        bars.setdefault(measure, []).append(f"{chord}@{beat}")
    text = f"metre: {meter['numerator']}/{meter['denominator']}\n"
    text += "\n".join(f"| {' '.join(bars.get(n, ['%']))} |" for n in range(1, max(bars) + 1))
    return parse_chart(text).chart


def moved(analysis: Analysis, semitones: int, first: int, last: int) -> Analysis:
    """The same functions in another key, cut to a stretch of events."""
    readings = tuple(_moved(r, i, semitones, first, last) for i, r in enumerate(analysis.readings[first:last]))
    return replace(analysis, readings=readings)


def _moved(reading: Reading, event: int, semitones: int, first: int, last: int) -> Reading:
    tonic = NoteName.from_fifths(reading.key.tonic.fifths + semitones * 7 % 12)
    goal = reading.resolves_to
    goal = goal - first if goal is not None and first <= goal < last else None
    return replace(reading, event=event, key=replace(reading.key, tonic=tonic), resolves_to=goal)


def milliseconds(work: Callable[[], Any]) -> float:
    """Wall time of one call, the collector kept out of it."""
    gc.collect()
    began = time.perf_counter()
    work()
    return (time.perf_counter() - began) * 1e3


def fill(copies: list[Analysis]) -> IdiomIndex[int]:
    index: IdiomIndex[int] = IdiomIndex()
    for number, copy in enumerate(copies):
        index.add(number, copy)
    return index


def corpus(path: str) -> list[Analysis]:
    with open(path, encoding="utf-8") as file:
        charts = [chart for chart in map(chart_of, json.load(file)) if chart is not None]
    began = time.perf_counter()
    analyses = [analyse(chart) for chart in charts]
    print(f"analysed {len(analyses)} charts in {time.perf_counter() - began:.1f} s")
    rng = random.Random(1)
    copies = []
    for _, analysis in zip(range(CHARTS), cycle(analyses), strict=False):
        size = len(analysis.readings)
        first = rng.randrange(max(size // 2, 1))
        copies.append(moved(analysis, rng.randrange(12), first, first + max(size // 2, 8)))
    return copies


def report(name: str, idiom: Idiom, indexes: list[IdiomIndex[int]], sample: list[Analysis]) -> tuple[float, int]:
    """One line of the table; (milliseconds of the search with a page, hits)."""
    parts = [milliseconds(partial(index.find, idiom)) for index in indexes]
    index = indexes[-1]
    began = time.perf_counter()
    found = index.find(idiom)
    list(found[:PAGE])
    with_page = (time.perf_counter() - began) * 1e3
    built = milliseconds(lambda: list(found))
    walk = milliseconds(lambda: [find_idioms(copy, [idiom]) for copy in sample]) * CHARTS / len(sample)
    print(
        f"{name:34} {len(found):6} {len(found.names()):6} {parts[-1]:8.1f} {with_page:8.1f} {built:9.1f} "
        f"{parts[-1] * 1e3 / max(len(found), 1):7.2f} {parts[0]:8.1f} {parts[1]:8.1f} {walk / max(parts[-1], 1e-3):9.0f}"
    )
    return max(parts[-1], with_page), len(found)


def absent(copies: list[Analysis]) -> None:
    """A pattern found in a fixed few charts, among ever more charts that do not have it: time must stay."""
    pattern = make_idiom("few", "few", "2min 5dom 1maj")
    with_it = [copy for copy in copies if find_idioms(copy, [pattern])][:250]
    without = [copy for copy in copies if not find_idioms(copy, [pattern])]
    times = []
    for count in (250, 1000, 3000):
        index = fill(with_it + without[:count])
        times.append(
            (len(index), len(index.find(pattern)), min(milliseconds(partial(index.find, pattern)) for _ in range(5)))
        )
    rows = ", ".join(f"{charts} charts {hits} hits {ms:.2f} ms" for charts, hits, ms in times)
    print(
        f"the same hits among more charts: {rows}; time x {times[-1][2] / times[0][2]:.2f} for charts x {times[-1][0] / times[0][0]:.1f}"
    )


def main(path: str) -> None:
    copies = corpus(path)
    began = time.perf_counter()
    indexes = [fill(copies[:count]) for count in PARTS]
    print(f"filed {sum(PARTS)} charts in {time.perf_counter() - began:.1f} s")
    print(
        "ms: the first search of a pattern, nothing kept from before (the smallest index pays for its expressions); page: again with 50 built; all: every one built"
    )
    print(f"{'pattern':34} {'hits':>6} {'charts':>6} {'ms':>8} {'page':>8} {'all':>9} {'us/hit':>7} "
          f"{'ms 2500':>8} {'ms 5000':>8} {'walk / ms':>9}")  # fmt: skip
    worst = []
    patterns = [(i.id, i) for i in BUILT_IN.values()] + [(text, make_idiom("own", "own", text)) for text in OWN]
    for name, idiom in patterns:
        worst.append((*report(name, idiom, indexes, copies[:SAMPLE]), name))
    slowest = max(worst)
    print(
        f"slowest of {len(worst)}: {slowest[2]}, {slowest[0]:.1f} ms for {slowest[1]} hits; over 100 ms: {sum(w[0] > 100 for w in worst)}"
    )
    absent(copies)


if __name__ == "__main__":
    main(given("CHARTS.json, a list of charts with measures, beats, chords and meter"))
