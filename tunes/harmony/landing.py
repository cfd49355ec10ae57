"""The landing profile: how many resolutions are still to come before each chord lands on its local tonic."""

from __future__ import annotations

from collections.abc import Sequence

from .reading import Reading


def landing(readings: Sequence[Reading]) -> tuple[int | None, ...]:
    """0 at rest, 1 for a chord that resolves to one at rest, and so on; None where nothing is promised.

    A deceptive dominant counts the one resolution that it promises, and what leads to it counts on from there: the line
    comes down to 1 and breaks.
    A chord at rest counts 0 even when it later moves on, and so does the 4 of a blues, which is at home there.  A chord that leads to the next chorus counts the
    first chord as its goal.
    """
    found: dict[int, int | None] = {}
    for start in range(len(readings)):
        path: list[int] = []
        at: int | None = start
        while at is not None and at not in found and at not in path:
            path.append(at)
            at = None if _stays(readings[at]) else readings[at].resolves_to
        _settle(readings, path, at, found)
    return tuple(found[index] for index in range(len(readings)))


def _stays(reading: Reading) -> bool:
    return _rests(reading) or reading.resolution == "onward"


def _rests(reading: Reading) -> bool:
    return reading.function.role == "tonic" or reading.function.kind == "blues"


def _settle(readings: Sequence[Reading], path: list[int], at: int | None, found: dict[int, int | None]) -> None:
    """Give every event on a path its number, the last first."""
    count = found.get(at) if at is not None else None
    for index in reversed(path):
        reading = readings[index]
        if _rests(reading):
            count = 0
        elif reading.resolution == "deceptive":
            count = 1
        elif reading.resolves_to is None or count is None:
            count = None
        else:
            count += 1
        found[index] = count
