"""Slips of the tracker to another octave, mended where the line says that they are slips.

At a soft attack, or where a tone turns thin, a tracker may follow the second or fourth harmonic for a moment, with some tones
for as long as they last. A piece that touches a piece of the same letter, one or two octaves away, is one note with it, unless
the line wants both pitches there. What lies two octaves above a note of the line, where it wants nothing of the kind, is that
note: nobody plays it by mistake. A short note an octave off is counted as written for the same reason: such notes are the
tracker's fault far more often than the player's. A long one is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from .expected import Score
from .sound import STEP, Array, Event, Frames

_TOUCH = 2.5 * STEP
_NEAR = 0.6
_SHORT = 0.4


def mended(events: Sequence[Event], score: Score, due: Array, above: float) -> tuple[Event, ...]:
    """Events with slips joined to the notes they belong to. `above`: semitones by which the take lies above the line."""
    line = _Line(score, due, above)
    found: list[Event] = []
    slipped = False  # the last one ends with a slip: what goes on at its pitch is the same note
    for heard in events:
        event = line.folded(heard)
        folded = event is not heard
        last = found[-1] if found else None
        if last is None or event.start - last.end > _TOUCH:
            found.append(event)
            slipped = folded
            continue
        apart = abs(last.midi - event.midi)
        if (slipped or folded) and apart < _NEAR:
            found[-1], slipped = _joined(last, event, last), folded
        elif abs(apart - 12) < _NEAR and line.wants(last) != line.wants(event):
            found[-1], slipped = _joined(last, event, last if line.wants(last) else event), line.wants(last)
        else:
            found.append(event)
            slipped = folded
    return tuple(found)


def unslipped(midi: Array, frames: Frames, events: Sequence[Event]) -> Array:
    """Pitches by frame with the slips inside mended events moved to the octave of their event."""
    found = midi.copy()
    for event in events:
        inside = frames.between(event.start, event.end)
        off = found[inside] - event.midi
        for octave in (12.0, 24.0):
            found[inside] -= np.where(np.abs(np.abs(off) - octave) < _NEAR, np.sign(off) * octave, 0.0)
    return found


def _joined(first: Event, second: Event, kept: Event) -> Event:
    return replace(kept, start=first.start, end=second.end, level=max(first.level, second.level))


class _Line:
    """What the line wants around a moment."""

    def __init__(self, score: Score, due: Array, above: float) -> None:
        self.midi, self.due, self.beat = score.midi + above, due, score.beat

    def _has(self, event: Event, midi: float) -> bool:
        near = (self.due > event.start - 2 * self.beat) & (self.due < event.end + 0.5 * self.beat)
        return bool(np.any(near & (np.abs(self.midi - midi) < _NEAR)))

    def wants(self, event: Event) -> bool:
        """Whether the line has its pitch shortly before or under it."""
        return self._has(event, event.midi)

    def folded(self, event: Event) -> Event:
        """In the octave of the line, where only that is in it: from two octaves above at any length, from the next one when
        the note is short."""
        if self.wants(event):
            return event
        octaves = (24.0,) if event.length >= _SHORT else (24.0, 12.0, -12.0)
        for octave in octaves:
            if self._has(event, event.midi - octave):
                return replace(event, midi=event.midi - octave)
        return event
