"""Melody against chords: what every note is, what comes back, what a player is in the habit of. No database, no clock."""

from .habits import Habit, habits
from .index import LineIndex
from .lines import LinePlace, Recurrence, recurring_lines
from .notes import Change, Grid, GridBar, Note, Place, changes_of, in_order
from .reading import ENGINE, NoteReading, read_notes
from .rules import ROLES, RULES, Role, Rule
from .solo import SoloReading, read

__all__ = [
    "ENGINE", "ROLES", "RULES", "Change", "Grid", "GridBar", "Habit", "LineIndex", "LinePlace", "Note", "NoteReading", "Place",
    "Recurrence", "Role", "Rule", "SoloReading", "changes_of", "habits", "in_order", "read", "read_notes",
    "recurring_lines",
]  # fmt: skip
