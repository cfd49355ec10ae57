"""The whole reading of a solo in one call."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .habits import Habit, habits
from .lines import Recurrence, recurring_lines
from .notes import Change, Grid, Note
from .reading import NoteReading, read_notes


@dataclass(frozen=True, slots=True)
class SoloReading:
    """What is read from a solo: its notes, the lines that come back, degrees over functions (habits among them)."""

    notes: tuple[NoteReading, ...]
    lines: tuple[Recurrence, ...]
    habits: tuple[Habit, ...]


def read(notes: Sequence[Note], changes: Sequence[Change], grid: Grid) -> SoloReading:
    """Notes against chords. Both in order of time (ValueError says which is not); no notes give an empty reading."""
    found = read_notes(notes, changes, grid)
    lines = recurring_lines([note.midi for note in notes], [float(note.onset) for note in notes])
    return SoloReading(found, lines, habits(found, notes, changes, grid))
