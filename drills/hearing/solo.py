"""What can be said without a known line: notes with pitch and how sure they are, on the form map."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .sound import STEP, Event

SHORTEST = 0.05
_SLIP = 0.1
"""Seconds under which a piece that touches its own octave is taken for a slip of the tracker, not for a note."""
_TOUCH = 2.5 * STEP
SURE = 0.85
"""Mean confidence from which a note of usual length is no guess."""


@dataclass(frozen=True, slots=True)
class HeardNote:
    """A note of a solo: second, seconds, sounding MIDI number, cents off the take's tuning, and how sure the machine is."""

    second: float
    length: float
    midi: int
    cents: int
    confidence: float

    @property
    def sure(self) -> bool:
        return self.confidence >= SURE and self.length >= 0.09 and abs(self.cents) <= 35


def notes_of(events: Sequence[Event]) -> tuple[Event, ...]:
    """The notes of a solo: slips to another octave joined to what they touch, specks left out. A repeat that is slurred
    stays one note: no attack is heard."""
    found: list[Event] = []
    for event in events:
        if found and _one_note(found[-1], event):
            last = found.pop()
            longer = last if last.length >= event.length else event
            event = replace(longer, start=last.start, end=event.end, level=max(last.level, event.level))
        found.append(event)
    return tuple(event for event in found if event.length >= SHORTEST)


def _one_note(first: Event, second: Event) -> bool:
    apart = abs(first.midi - second.midi)
    octave = min(abs(apart - 12), abs(apart - 24)) < 0.6
    return octave and second.start - first.end < _TOUCH and min(first.length, second.length) < _SLIP


def heard_notes(events: Sequence[Event]) -> tuple[HeardNote, ...]:
    """The same in semitones, against the take's own tuning."""
    notes = notes_of(events)
    if not notes:
        return ()
    weights = np.array([note.length for note in notes])
    turned = np.sum(weights * np.exp(2j * np.pi * np.array([note.midi for note in notes])))
    tuning = float(np.angle(turned) / (2 * np.pi))
    return tuple(
        HeardNote(
            round(note.start, 3),
            round(note.length, 3),
            round(note.midi - tuning),
            round(100 * (note.midi - tuning - round(note.midi - tuning))),
            round(note.confidence, 2),
        )
        for note in notes
    )


def first_note(notes: Sequence[HeardNote], begins: float, beat: float) -> float | None:
    """Beats by which the first note comes after the top of the form (negative: a pickup), None without a note; within half
    a beat it begins there."""
    return None if not notes else round((notes[0].second - begins) / beat, 2)
