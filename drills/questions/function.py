"""Kind "function": what does every chord do?  One question per chord, repeated sections asked once.

The key holds all that marking and feedback need (see `function_key`), so that neither analyses again.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from types import MappingProxyType
from typing import Any

from drills.questions.base import KeyJson, Options, Question
from drills.questions.places import Place, places, sections_of
from drills.questions.sound import sound_hint
from tunes.harmony.analysis.pipeline import Analysis, Reading
from tunes.harmony.answers.closeness import ABOVE_GOAL
from tunes.harmony.answers.equivalents import equivalent_names
from tunes.harmony.answers.reader import degree_fifths
from tunes.harmony.charts.bars import Event, next_chord
from tunes.harmony.charts.model import Chart
from tunes.harmony.chords.over_bass import heard_as
from tunes.harmony.readings.function import Function

KIND = "function"
FARTHEST = 4.0
"""Other readings weaker than this (in the engine's margin) are not worth accepting in an answer."""


def build_function(study: Any, options: Options, seed: int) -> tuple[Question, ...]:
    """One question per chord in playing order; ``seed`` is not needed, because the form gives the order."""
    chart: Chart = study.chart
    analysis: Analysis = study.analysis
    events, where = chart.events(), places(chart)
    twins = held_events(chart, analysis)
    if not options.every_section:
        twins = {**twins, **repeated_events(chart, analysis, twins)}
    overruled = getattr(study, "overridden", {}) or {}
    made = []
    for event in events:
        if event.index in twins or _unasked(event):
            continue
        if options.bars and where[event.index].bar not in options.bars:
            continue
        key = function_key(chart, analysis, event.index, where, overruled=event.index in overruled)
        also = tuple(sorted(later for later, first in twins.items() if first == event.index))
        made.append(_question(event, where[event.index], key, also))
    return tuple(made)


def _unasked(event: Event) -> bool:
    """Where no chord is written (N.C., a blank, a chord held over) there is nothing to ask."""
    return event.symbol is None


def _question(event: Event, place: Place, key: KeyJson, also: tuple[int, ...]) -> Question:
    context = {"chord": key["chord"], "section": place.section, "beat": place.beat, "pass": place.pass_no,
               "played": place.played}  # fmt: skip
    return Question(
        id=f"{KIND}:{event.index}", kind=KIND, prompt=f"{place.text}: what does this chord do?", event=event.index,
        bar=place.bar, key=key, context=context, also=also,
    )  # fmt: skip


def function_key(
    chart: Chart, analysis: Analysis, index: int, where: Sequence[Place], *, overruled: bool = False
) -> KeyJson:
    """The stored key of one chord.

    ``expected`` is the function as JSON with both forms, ``key`` its key area, ``goal`` where it resolves,
    ``alternatives`` the other readings with margins, ``equivalents`` other right names, ``neighbours`` the chords
    beside it, ``passing`` the keys heard for a moment in which it has a name of its own, ``new_area`` whether a key area other than the one before begins here.
    """
    events = chart.events()
    reading = analysis.readings[index]
    reading = replace(reading, function=named_by_its_root(reading.function))
    symbol = events[index].symbol
    following = events[(index + 1) % len(events)].symbol
    place = where[index]
    return {
        "kind": KIND, "event": index, "bar": place.bar, "played": place.played, "beat": place.beat, "pass": place.pass_no,
        "section": place.section, "chord": symbol.text if symbol else "N.C.",
        "home": analysis.home.text, "key": reading.key.text, "new_area": _begins_area(analysis, index),
        "expected": reading.function.to_json(), "equivalents": list(equivalent_names(reading.function)),
        "resolution": reading.resolution, "goal": _goal(events, where, analysis, reading),
        "reason": reading.reason.to_json(), "rule": reading.rule, "overruled": overruled,
        "alternatives": [] if overruled else [_alternative(other) for other in reading.alternatives if other.margin <= FARTHEST],
        "neighbours": _neighbours(events, analysis, index), "passing": passing_keys(analysis, index), "patterns": list(reading.patterns),
        "sound": sound_hint(reading.function, symbol and heard_as(symbol), following),
    }  # fmt: skip


def named_by_its_root(function: Function) -> Function:
    """A function whose name says where its root lies; one that is named by a goal it does not lie right for (a chord
    a semitone above a dominant, called its 2) takes the name of its own degree.

    >>> named_by_its_root(Function("b6", "m7", "predominant", "related-ii", "1", False, "2")).numeral
    'bvi7'
    """
    if function.of not in ABOVE_GOAL:
        return function
    lies = degree_fifths(function.degree) - degree_fifths(function.target or "1") - ABOVE_GOAL[function.of]
    return function if lies % 12 == 0 else replace(function, of=None, target=None)


def _alternative(other: Any) -> KeyJson:
    return {
        "key": other.key.text, "function": named_by_its_root(other.function).to_json(), "margin": float(other.margin),
        "reason": other.reason.to_json(),
    }  # fmt: skip


def _begins_area(analysis: Analysis, index: int) -> bool:
    return any(
        area.first == index and number > 0 and analysis.areas[number - 1].key != area.key
        for number, area in enumerate(analysis.areas)
    )


def _goal(events: Sequence[Event], where: Sequence[Place], analysis: Analysis, reading: Reading) -> KeyJson | None:
    onward = reading.resolution == "onward"
    goal = next_chord(events, reading.event) if onward else analysis.heading(reading.event)
    if goal is None or not 0 <= goal < len(events):
        return None
    symbol = events[goal].symbol
    if symbol is None:
        return None
    place = where[goal]
    return {"event": goal, "chord": symbol.text, "bar": place.bar, "played": place.played, "pass": place.pass_no}


def _neighbours(events: Sequence[Event], analysis: Analysis, index: int) -> list[KeyJson]:
    """The chords before and after, when they are other chords with another function."""
    found, own = [], analysis.readings[index]
    for other in (index - 1, index + 1):
        if not 0 <= other < len(events) or events[other].symbol == events[index].symbol:
            continue
        reading = analysis.readings[other]
        if (reading.key, reading.function.numeral) != (own.key, own.function.numeral):
            found.append({"key": reading.key.text, "function": reading.function.to_json()})
    return found


_REACH = 4
"""Chords between a dominant and the goal that it makes a tonic for a moment (common practice, no source)."""
_AFTER = 2
"""Chords after that goal which are still heard from it."""


def passing_keys(analysis: Analysis, index: int) -> list[str]:
    """Keys other than its own in which a chord is heard for a moment: a dominant (with its 2) leads to a chord at rest
    there, and this chord is part of the way, the goal, or comes straight after it without leaving."""
    readings, found = analysis.readings, []
    for reading in readings[max(0, index - _REACH - _AFTER) : index + _REACH + 1]:
        goal, function = reading.resolves_to, reading.function
        leads = function.of in ("5", "sub5", "7", "b7") and (function.target or "1") != "1"
        if (
            goal is None
            or not leads
            or reading.local_key == readings[index].key
            or not 0 < goal - reading.event <= _REACH
        ):
            continue
        if reading.event - 1 <= index <= goal or _stays(readings, goal, index):
            found.append(reading.local_key.text)
    beside = (analysis.readings[at].key for at in (index - 1, index + 1) if 0 <= at < len(readings))
    found.extend(key.text for key in beside if key != readings[index].key)
    return list(dict.fromkeys(found))


def _stays(readings: Sequence[Reading], goal: int, index: int) -> bool:
    """Whether the chords after a goal, up to this one, stay with it: none of them is a dominant."""
    between = readings[goal + 1 : index + 1]
    return 0 < index - goal <= _AFTER and all(
        one.function.role != "dominant" and one.function.of is None for one in between
    )


def held_events(chart: Chart, analysis: Analysis) -> dict[int, int]:
    """A chord that only goes on (a repeated bar) is one question: later event → the event where it began."""
    found: dict[int, int] = {}
    events = chart.events()
    for before, event in pairwise(events):
        same = event.symbol is not None and event.symbol == before.symbol
        one, other = analysis.readings[before.index], analysis.readings[event.index]
        if same and (one.key, one.function.numeral) == (other.key, other.function.numeral):
            found[event.index] = found.get(before.index, before.index)
    return found


def repeated_events(chart: Chart, analysis: Analysis, held: Mapping[int, int] = MappingProxyType({})) -> dict[int, int]:
    """Events that repeat an earlier section of the same letter: later event → the event that is asked.

    Chord by chord: the chord, its place within the section, its key and its function must all be the same, so
    a second ending or a bar that turns elsewhere is asked for itself.
    """
    first: dict[Hashable, tuple[int, int]] = {}
    twins: dict[int, int] = {}
    starts = _section_starts(chart)
    for event in chart.events():
        label, offset, visit = starts[event.chorus_bar]
        if label is None:
            continue
        mark = (label, offset, event.onset, _signature(event, analysis))
        if mark in first and first[mark][1] != visit:
            twins[event.index] = held.get(first[mark][0], first[mark][0])
        elif mark not in first:
            first[mark] = (event.index, visit)
    return twins


def _signature(event: Event, analysis: Analysis) -> Hashable:
    reading = analysis.readings[event.index]
    chord = event.symbol.text if event.symbol else event.text
    return chord, reading.key.text, reading.function.numeral, reading.function.role, reading.resolution


def _section_starts(chart: Chart) -> dict[int, tuple[str | None, int, int]]:
    """Chorus bar → (section letter without primes, bars since its start, which visit)."""
    found: dict[int, tuple[str | None, int, int]] = {one.index: (None, 0, 0) for one in chart.unfold()}
    for visit, (label, start, bars) in enumerate(sections_of(chart)):
        plain = label.rstrip("'’′0123456789 ")
        for offset in range(bars):
            found[start + offset] = (plain or label or None, offset, visit)
    return found
