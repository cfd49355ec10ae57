"""What can be said without a known line: notes with pitch and how sure they are, on the form map."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .sound import Event, Sound

SHORTEST = 0.05
_SPLIT_AWAY = 0.07
"""Seconds from either end of a note within which an attack is its own."""


def notes_of(sound: Sound) -> tuple[Event, ...]:
    """The notes of a solo: events, cut again where the same pitch is struck anew, without specks."""
    found: list[Event] = []
    strong = _strong(sound)
    for event in sound.events:
        if event.length < SHORTEST:
            continue
        found.extend(_cut(event, strong))
    return tuple(found)


def _strong(sound: Sound) -> Sequence[float]:
    """Attacks about as strong as those with which notes begin."""
    starts = np.array([event.start for event in sound.events])
    if not len(starts) or not len(sound.attack_times):
        return ()
    near = np.abs(sound.attack_times[:, None] - starts[None, :]).min(axis=1) < 0.05
    usual = float(np.median(sound.attack_sizes[near])) if near.any() else float(np.median(sound.attack_sizes))
    return tuple(float(second) for second in sound.attack_times[sound.attack_sizes > 0.5 * usual])


def _cut(event: Event, attacks: Sequence[float]) -> list[Event]:
    parts = [event]
    for second in attacks:
        last = parts[-1]
        if last.start + _SPLIT_AWAY < second < last.end - _SPLIT_AWAY:
            parts[-1:] = [replace(last, end=second), replace(last, start=second)]
    return parts
