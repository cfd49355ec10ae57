"""The idiom index over 10,000 charts: time of a search against what it finds and against the number of charts.

    python -m tests.bench.idioms CHARTS.json

CHARTS.json is a list of charts with "measures", "beats", "chords", "meter" (a dict with numerator and denominator); nothing
of it enters the project. Charts are analysed, then transposed and cut until there are 10,000.
"""

from __future__ import annotations

import gc
import json
import random
import sys
import time
from dataclasses import replace
from itertools import cycle

from tunes.harmony.analysis import analyse
from tunes.harmony.chart import Chart, parse_chart
from tunes.harmony.idiom_index import IdiomIndex
from tunes.harmony.idioms import BUILT_IN, find_idioms, make_idiom
from tunes.harmony.reading import Analysis
from tunes.harmony.spelling import NoteName

CHARTS = 10_000
OWN = ("6min 2dom 5dom", "4maj 4min 3min", "1maj 4maj", "2min b2dom 1maj", "3dom 6min", "5dom 1min 4dom", "6min 2min 5dom 1maj",
       "b6maj 5dom 1min", "home: 4maj b7dom 1maj", "5min 1dom 4maj")  # fmt: skip
"""Patterns that no index has seen: what a class might name on its own."""


def chart_of(row: dict) -> Chart | None:
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
    readings = tuple(
        replace(
            r,
            event=i,
            key=replace(r.key, tonic=NoteName.from_fifths(r.key.tonic.fifths + semitones * 7 % 12)),
        )
        for i, r in enumerate(analysis.readings[first:last])
    )
    return replace(analysis, readings=readings)


def main(path: str) -> None:
    with open(path, encoding="utf-8") as file:
        charts = [chart for chart in map(chart_of, json.load(file)) if chart is not None]
    began = time.perf_counter()
    analyses = [analyse(chart) for chart in charts]
    print(f"analysed {len(analyses)} charts in {time.perf_counter() - began:.1f} s")
    rng = random.Random(1)
    index: IdiomIndex[int] = IdiomIndex()
    quarter: IdiomIndex[int] = IdiomIndex()
    sample: list[Analysis] = []
    began = time.perf_counter()
    for number, analysis in zip(range(CHARTS), cycle(analyses), strict=False):
        size = len(analysis.readings)
        first = rng.randrange(max(size // 2, 1))
        copy = moved(analysis, rng.randrange(12), first, first + max(size // 2, 8))
        index.add(number, copy)
        if number < CHARTS // 4:
            quarter.add(number, copy)
        if number < 500:
            sample.append(copy)
    print(f"filed {CHARTS} charts in {time.perf_counter() - began:.1f} s (and a quarter of them again)")
    gc.collect()
    gc.freeze()  # what is filed stays: the collector need not walk through it during a search
    print(f"{'idiom':32} {'hits':>7} {'charts':>7} {'first ms':>8} {'again ms':>8} {'us/hit':>7} {'ms quarter':>10} {'walk ms':>9}")
    own = [make_idiom(f"own: {text}", text, text) for text in OWN]
    for idiom in (*BUILT_IN.values(), *own):
        began = time.perf_counter()
        found = list(index.find(idiom))
        took = time.perf_counter() - began
        began = time.perf_counter()
        list(index.find(idiom))
        again = time.perf_counter() - began
        began = time.perf_counter()
        list(quarter.find(idiom))
        took_quarter = time.perf_counter() - began
        began = time.perf_counter()
        for copy in sample:
            find_idioms(copy, [idiom])
        walk = (time.perf_counter() - began) * CHARTS / len(sample)
        each = took * 1e6 / max(len(found), 1)
        print(f"{idiom.id:32} {len(found):7} {len({n for n, _ in found}):7} {took * 1e3:8.1f} {again * 1e3:8.2f} {each:7.1f} "
              f"{took_quarter * 1e3:10.1f} {walk * 1e3:9.0f}")  # fmt: skip


if __name__ == "__main__":
    main(sys.argv[1])
