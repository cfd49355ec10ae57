"""What was to be played: notes in sounding pitch, in seconds at the tempo and swing that were asked for."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from drills.band.feel import swung

from .sound import Array

LOWEST = 30
"""F sharp 1: below it the tracker hears nothing (46.9 Hz, its own table)."""
Sounding = tuple[float, float, int]
"""Start and length in crotchets, sounding MIDI number."""


class CannotBeHeard(ValueError):
    """The line is nothing that the machine can follow; the message says why."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """index   place in the notes of one chorus.  chorus  from 1.  bar  index of its bar in the chorus.
    midi    sounding pitch.  start, length  crotchets from the first bar of the take, straight.
    """

    index: int
    chorus: int
    bar: int
    midi: int
    start: float
    length: float

    @property
    def on_half(self) -> bool:
        """On the half of a beat, where swing is heard."""
        return abs(self.start % 1 - 0.5) < 1e-6


@dataclass(frozen=True)
class Score:
    """The notes of a take in order; `tempo` in crotchets a minute, `swing` long to short quaver (1.0 even).

    bars   start and length in crotchets of every bar of one chorus.
    """

    notes: tuple[Wanted, ...]
    bars: tuple[tuple[float, float], ...]
    choruses: int
    tempo: float
    swing: float = 1.0

    @property
    def beat(self) -> float:
        """Seconds of a crotchet."""
        return 60 / self.tempo

    @property
    def seconds(self) -> Array:
        """Where each note was to begin, from the first bar line."""
        return np.array([swung(note.start, self.swing) * self.beat for note in self.notes])

    @property
    def midi(self) -> Array:
        return np.array([float(note.midi) for note in self.notes])

    @property
    def half(self) -> Array:
        """1.0 for each note on the half of a beat."""
        return np.array([float(note.on_half) for note in self.notes])


def score_of(
    notes: Sequence[Sounding],
    bars: Sequence[tuple[float, float]],
    *,
    tempo: float,
    choruses: int = 1,
    swing: float = 1.0,
) -> Score:
    """One chorus of notes, so many times in a row. Raises `CannotBeHeard` for what is not one voice, lies too low or is
    empty."""
    if not notes or not bars:
        raise CannotBeHeard("There are no notes to compare with.")
    in_order = sorted(notes)
    if any(a[0] + a[1] > b[0] + 1e-6 for a, b in pairwise(in_order)):
        raise CannotBeHeard("The machine hears one note at a time: no chords, no two voices.")
    if min(note[2] for note in in_order) < LOWEST:
        raise CannotBeHeard("The line goes below F♯1, where the machine hears nothing.")
    starts = [start for start, _ in bars]
    length = bars[-1][0] + bars[-1][1]
    found = [
        Wanted(index, chorus, max(0, bisect_right(starts, start + 1e-6) - 1), midi, (chorus - 1) * length + start, held)
        for chorus in range(1, choruses + 1)
        for index, (start, held, midi) in enumerate(in_order)
    ]
    return Score(tuple(found), tuple(bars), choruses, tempo, swing)
