"""What shows only over several chords: the progressions a chord belongs to, line clichés, cycles of keys, pedals.

Read off a finished analysis; functions stay as they are, a few reasons become more telling.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

from .explain import reason
from .idioms import Occurrence, find_idioms
from .reading import Analysis, Reading

LINES = ("line-falling", "line-rising")
THIRD_CYCLE, PEDAL = "major-third-cycle", "pedal"
_PEDAL_CHORDS = 3


def with_patterns(analysis: Analysis, basses: Sequence[int | None]) -> Analysis:
    """The analysis with `patterns` filled in. `basses` holds the pitch class of the bass of every event."""
    names: dict[int, list[str]] = {}
    for found in find_idioms(analysis):
        _add(names, _events(found, len(analysis.readings)), found.idiom)
    for first, last in _third_cycles(analysis):
        _add(names, range(first, last + 1), THIRD_CYCLE)
    for first, last in _pedals(analysis, basses):
        _add(names, range(first, last + 1), PEDAL)
    readings = tuple(_told(reading, tuple(names.get(reading.event, ())), basses) for reading in analysis.readings)
    return replace(analysis, readings=readings)


def _add(names: dict[int, list[str]], events: Iterator[int] | range, name: str) -> None:
    for event in events:
        held = names.setdefault(event, [])
        if name not in held:
            held.append(name)


def _events(found: Occurrence, count: int) -> Iterator[int]:
    """The events of an occurrence, through the repeat of the form when it wraps."""
    event = found.first
    while event != found.last:
        yield event
        event = (event + 1) % count
    yield event


def _third_cycles(analysis: Analysis) -> Iterator[tuple[int, int]]:
    """Runs of three neighbouring key areas whose tonics lie a major third apart, in one direction: from the last rest
    of the first to the first rest of the last, where they are long."""
    areas = analysis.areas
    for run in zip(areas, areas[1:], areas[2:], strict=False):
        steps = {(b.key.tonic.pc - a.key.tonic.pc) % 12 for a, b in itertools.pairwise(run)}
        if steps in ({4}, {8}):
            begins = [event for event in range(run[0].first, run[0].last + 1) if _is_home(analysis, event)]
            ends = [event for event in range(run[2].first, run[2].last + 1) if _is_home(analysis, event)]
            yield begins[-1] if begins else run[0].first, ends[0] if ends else run[2].last


def _is_home(analysis: Analysis, event: int) -> bool:
    function = analysis.readings[event].function
    return function.degree == "1" and function.role == "tonic"


def _pedals(analysis: Analysis, basses: Sequence[int | None]) -> Iterator[tuple[int, int]]:
    """Runs of at least three chords over one bass that is not the root of all of them."""
    start = 0
    for event in range(1, len(basses) + 1):
        if event < len(basses) and basses[event] == basses[start]:
            continue
        run = analysis.readings[start:event]
        degrees = {(r.key.text, r.function.degree) for r in run}
        if basses[start] is not None and len(run) >= _PEDAL_CHORDS and len(degrees) >= _PEDAL_CHORDS:
            yield start, event - 1
        start = event


def _told(reading: Reading, patterns: tuple[str, ...], basses: Sequence[int | None]) -> Reading:
    """The reading with its patterns, and with the reason that names one where the plain reason says less."""
    reading = replace(reading, patterns=patterns)
    function = reading.function
    if reading.rule in ("rest", "local-rest"):
        moving = _over_another_bass(reading, basses)
        reading = _retold(reading, moving, function.kind) if moving else reading
    if any(name in LINES for name in patterns) and function.role == "tonic":
        return _retold(reading, "line-cliche", "line-cliche")
    if THIRD_CYCLE in patterns and reading.rule in ("local-rest", "rest") and function.degree == "1":
        return _retold(reading, "third-cycle", "major-third-cycle")
    if PEDAL in patterns and function.role in ("colour", "passing") and reading.resolves_to is None:
        return _retold(reading, "pedal", "pedal")
    if "passing-4-5" in patterns and reading.rule in ("common-tone", "climbing-on") and _bass_on_five(reading, basses):
        return _retold(reading, "passing-bass", "passing-diminished")
    return reading


def _over_another_bass(reading: Reading, basses: Sequence[int | None]) -> str:
    """The rule for a tonic that does not stand on its root: over 5, or over a bass that moves on by step."""
    here, then = basses[reading.event], basses[(reading.event + 1) % len(basses)]
    if here is None or then is None or here == reading.key.tonic.pc:
        return ""
    if here == (reading.key.tonic.pc + 7) % 12:
        return "over-five"
    return "moving-bass" if (then - here) % 12 in (1, 2, 10, 11) else ""


def _bass_on_five(reading: Reading, basses: Sequence[int | None]) -> bool:
    """Whether the next chord has degree 5 in the bass."""
    return basses[(reading.event + 1) % len(basses)] == (reading.key.tonic.pc + 7) % 12


def _retold(reading: Reading, rule: str, kind: str) -> Reading:
    function = replace(reading.function, kind=kind)
    return replace(reading, rule=rule, function=function,
                   reason=reason(rule, function.spoken, reading.key.text))  # fmt: skip
