"""The landing profile: how many resolutions are still to come before each chord lands on its local tonic."""

from __future__ import annotations

from collections.abc import Sequence

from tunes.harmony.readings.reading import Reading, goes_on
from tunes.harmony.readings.rule_ids import RuleId

OVER_FIVE = RuleId.OVER_FIVE
SLIDES = frozenset({RuleId.SLIDE, RuleId.PASSING_DOWN})
"""Rules of a chord that slides into the next."""
LANDED = frozenset({RuleId.LANDED, RuleId.LANDED_FOUR})
"""Rules of a chord that a run lands on, whatever it is in its key."""
SAME_DOMINANT = frozenset({RuleId.SUSPENDED, RuleId.PROLONGED, RuleId.EXCHANGED})
"""Rules of a dominant that goes on in the next chord."""
_GOES_ON = SAME_DOMINANT | SLIDES
_NOT_AT_REST = _GOES_ON | {OVER_FIVE}


def landing(readings: Sequence[Reading]) -> tuple[int | None, ...]:
    """0 at rest, 1 for a chord that resolves to one at rest, and so on; None where nothing is promised.

    A deceptive dominant counts the one resolution that it promises, when what it promises sounds in its key area, and
    what leads to it counts on from there: the line comes down to 1 and breaks.  A suspended dominant counts as the
    same chord settled.  A chord at rest counts 0 even when the music moves on from it, and so does the 4 of a blues,
    which is at home there; a tonic over 5 in the bass can be landed on but is not at rest itself, and a chord of colour
    has no number; one that slides by takes the number of the chord it slides into.  A chord that leads to the next chorus counts the first chord as its goal.
    """
    found: dict[int, int | None] = {}
    for start in range(len(readings)):
        path: list[int] = []
        at: int | None = start
        while at is not None and at not in found and at not in path:
            path.append(at)
            at = None if _stays(readings[at]) else _next(readings, readings[at])
        _settle(readings, path, at, found)
    return tuple(None if _unsaid(reading, found[reading.event]) else found[reading.event] for reading in readings)


def _unsaid(reading: Reading, count: int | None) -> bool:
    """Whether a chord that can be landed on, or slides into one at rest, is not at rest itself."""
    return count == 0 and reading.rule in _NOT_AT_REST


def _next(readings: Sequence[Reading], reading: Reading) -> int | None:
    if reading.rule in _GOES_ON:
        return (reading.event + 1) % len(readings)
    return taken_up(readings, reading) or reading.resolves_to


def taken_up(readings: Sequence[Reading], reading: Reading) -> int | None:
    """Where a chord that is held comes again and sets out from there; None for any other."""
    goal = reading.resolves_to
    if reading.rule != RuleId.TAKEN_UP or goal is None:
        return None
    end = goal if goal > reading.event else len(readings)
    at = reading.event + 1
    while at < end and _lasts(reading, readings[at]):
        at += 1
    sound = (reading.root, reading.function.quality)
    again = next((other for other in readings[at:end] if (other.root, other.function.quality) == sound), None)
    return again.event if again and _alike(reading, again) else None


def _lasts(reading: Reading, after: Reading) -> bool:
    """Whether a chord still sounds, itself or in another colour: it has not been left yet."""
    same = (after.function, after.key) == (reading.function, reading.key)
    return same or goes_on(reading, after)


def _alike(reading: Reading, other: Reading) -> bool:
    """Whether a chord is the same one in the same key, on its way again."""
    same = other.key == reading.key and other.function == reading.function
    return same and other.resolution in ("direct", "delayed", "held")


def _stays(reading: Reading) -> bool:
    return _rests(reading) or (reading.resolution == "onward" and reading.rule not in SLIDES)


def _rests(reading: Reading) -> bool:
    """A tonic, a seventh that is at home in the blues, and whatever a run has landed on."""
    return (
        reading.rule in LANDED
        or reading.function.role == "tonic"
        or (reading.function.kind == "blues" and reading.rule != RuleId.PLAGAL)
    )


def _settle(readings: Sequence[Reading], path: list[int], at: int | None, found: dict[int, int | None]) -> None:
    """Give every event on a path its number, the last first."""
    count = found.get(at) if at is not None else None
    for index in reversed(path):
        reading = readings[index]
        if _rests(reading):
            count = 0
        elif reading.resolution == "deceptive":
            count = 1 if _can_land(readings, reading) else None
        elif _stays(reading) or reading.resolves_to is None or count is None:
            count = None
        elif reading.rule not in _GOES_ON and taken_up(readings, reading) is None:
            count += 1
        found[index] = count


def _can_land(readings: Sequence[Reading], reading: Reading) -> bool:
    """Whether the degree that a deceptive dominant promises is heard anywhere in its key."""
    target = reading.function.target
    return any(other.key == reading.key and other.function.degree == target for other in readings)
