"""Which of the progressions that a chart holds its chords are said to belong to: those that agree with their functions.

A pattern knows roots, qualities and where chords head; a name that contradicts what is said of the chords is not said.
Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from tunes.harmony.pitch.spelling import degree_interval
from tunes.harmony.progressions.idioms import Occurrence, find_idioms
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.landing import LANDED
from tunes.harmony.readings.reading import Analysis, Reading


def told(analysis: Analysis) -> tuple[Occurrence, ...]:
    """The built-in progressions of a chart whose names agree with its readings."""
    found = find_idioms(analysis)
    lines = [one for one in found if one.idiom == "line-falling"]
    return tuple(
        one for one in found
        if _agrees(one, [analysis.readings[event] for event in events_of(one, len(analysis.readings))])
        and not (one.idiom == "line-falling-from-7" and any(line.first < one.first <= line.last for line in lines))
    )  # fmt: skip


def events_of(found: Occurrence, count: int) -> list[int]:
    """The events of an occurrence, through the repeat of the form when it wraps."""
    if found.first <= found.last:
        return list(range(found.first, found.last + 1))
    return [*range(found.first, count), *range(found.last + 1)]


def from_the_top(found: Occurrence, readings: Sequence[Reading]) -> list[int]:
    """The events that wear the name: one that begins on 1 at the top is not begun by the rest on 1 before it."""
    events = events_of(found, len(readings))
    before = [readings[event] for event in events if event >= found.first] if found.last < found.first else []
    roots = {_root(reading) for reading in (*before, readings[0])}
    if before and len(roots) == 1 and all(_rests(reading.function) for reading in (*before, readings[0])):
        return [event for event in events if event <= found.last]
    return events


def _agrees(found: Occurrence, readings: Sequence[Reading]) -> bool:
    if found.idiom.startswith("turnaround-") and len({reading.key.tonic.pc for reading in readings}) > 1:
        return False
    rule = _RULES.get(found.idiom)
    return rule is None or rule(readings)


def _comes_to_rest(readings: Sequence[Reading]) -> bool:
    """Whether the last chord rests; a dominant that goes on ends no cadence."""
    last = readings[-1]
    return _rests(last.function) or last.rule in LANDED or last.function.kind == "blues"


def _by_the_back_door(readings: Sequence[Reading]) -> bool:
    """Whether flat 7 is heard as the back door, and 3 after it as resting in the place of 1."""
    return any(reading.function.kind == "backdoor" for reading in readings) and _rests(readings[-1].function)


def _turned_aside(readings: Sequence[Reading]) -> bool:
    """Whether a dominant after 5 comes in the place of 1; often it is only one more on the way."""
    left_open = any(reading.function.kind == "unresolved" for reading in readings)
    aside = readings[-1].function.role != "dominant" or any(reading.resolution == "deceptive" for reading in readings)
    return aside and not left_open


def _out_of_the_major(readings: Sequence[Reading]) -> bool:
    """Whether the major key is heard; where all of it stands in the minor key it is the circle of minor."""
    return any(reading.key.mode == "major" for reading in readings)


def _rests(function: Function) -> bool:
    return function.role == "tonic"


def _root(reading: Reading) -> int:
    return (reading.key.tonic.pc + degree_interval(reading.function.degree).semitones) % 12


_RULES: dict[str, Callable[[Sequence[Reading]], bool]] = {
    "backdoor-to-3": _by_the_back_door, "backdoor-minor": _comes_to_rest, "tritone-cadence": _comes_to_rest,
    "tritone-two-five": _comes_to_rest, "deceptive": _turned_aside, "circle-to-relative-minor": _out_of_the_major,
    "circle-minor": lambda readings: not _out_of_the_major(readings),
}  # fmt: skip
