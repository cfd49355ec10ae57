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
    for areas in _third_cycles(analysis):
        _add(names, (e for area in areas for e in range(area[0], area[1] + 1)), THIRD_CYCLE)
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


def _third_cycles(analysis: Analysis) -> Iterator[list[tuple[int, int]]]:
    """Runs of three neighbouring key areas whose tonics lie a major third apart, in one direction."""
    areas = analysis.areas
    for run in zip(areas, areas[1:], areas[2:], strict=False):
        steps = {(b.key.tonic.pc - a.key.tonic.pc) % 12 for a, b in itertools.pairwise(run)}
        if steps in ({4}, {8}):
            yield [(area.first, area.last) for area in run]


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
    if not patterns:
        return reading
    reading = replace(reading, patterns=patterns)
    function = reading.function
    if any(name in LINES for name in patterns) and function.role == "tonic":
        return _retold(reading, "line-cliche", "line-cliche")
    if THIRD_CYCLE in patterns and reading.rule in ("local-rest", "rest") and function.degree == "1":
        return _retold(reading, "third-cycle", "major-third-cycle")
    if PEDAL in patterns and function.role in ("colour", "passing") and reading.resolves_to is None:
        return _retold(reading, "pedal", "pedal")
    if "passing-4-5" in patterns and reading.rule == "common-tone" and _bass_on_five(reading, basses):
        return _retold(reading, "passing-bass", "passing-diminished")
    return reading


def _bass_on_five(reading: Reading, basses: Sequence[int | None]) -> bool:
    """Whether the next chord has degree 5 in the bass."""
    return basses[(reading.event + 1) % len(basses)] == (reading.key.tonic.pc + 7) % 12


def _retold(reading: Reading, rule: str, kind: str) -> Reading:
    function = replace(reading.function, kind=kind)
    return replace(reading, rule=rule, function=function,
                   reason=reason(rule, function.spoken, reading.key.text))  # fmt: skip
