"""A plain reading of a chart in its own key, used only until the engine's `analyse` is there."""
from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby

from tunes.harmony.analysis import Analysis, Function, KeyArea, Reading
from tunes.harmony.chart import Chart, Event
from tunes.harmony.spelling import Key

_QUALITIES = {"dominant": "7", "minor": "m7", "major": "maj7", "half-diminished": "m7b5", "diminished": "dim7"}


def read(chart: Chart, held: Mapping[int, Key]) -> Analysis:
    home = chart.key or Key.parse("C")
    events = chart.events()
    readings = tuple(_reading(event, events, held.get(event.index, home)) for event in events)
    areas = []
    for key, group in groupby(readings, key=lambda reading: reading.key):
        run = list(group)
        areas.append(KeyArea(key, run[0].event, run[-1].event, "The key of the chart."))
    landing = [0 if r.function.role == "tonic" else 1 if r.resolves_to is not None else None for r in readings]
    return Analysis(home, tuple(areas), readings, tuple(landing), "provisional")


def _reading(event: Event, events: tuple[Event, ...], key: Key) -> Reading:
    symbol, following = event.symbol, events[(event.index + 1) % len(events)]
    if symbol is None:
        return Reading(event.index, key, Function("1", "", "none", "no-chord"), None, "none", "", "No chord.", key)
    degree = key.degree_of(symbol.root)
    role = "dominant" if symbol.family == "dominant" else "tonic" if degree == "1" else "predominant"
    target = None
    if role != "tonic" and following.symbol and (symbol.root.pc - following.symbol.root.pc) % 12 in (7, 1):
        target = following.index
    function = Function(degree, _QUALITIES.get(symbol.family, ""), role, "diatonic")
    way = "none" if target is None else "direct"
    return Reading(event.index, key, function, target, way, "", f"{symbol.display} in {key.display}.", key)
