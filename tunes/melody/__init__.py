"""Melody against chords: what every note is, what comes back, what a player is in the habit of. No database, no clock."""

from .fit import BarFit, Candidate, chord_fit, fit_bars, scale_fit
from .habits import Habit, habits
from .index import LineIndex
from .lines import LinePlace, Recurrence, recurring_lines
from .notes import Change, Grid, GridBar, Note, Place, changes_of, in_order
from .placing import Placed, Tap, place, swing_ratio
from .reading import ENGINE, NoteReading, read_notes
from .rules import ROLES, RULES, Role, Rule
from .shape import BarShape, Phrase, Shape, shape
from .solo import SoloReading, read
from .wording import Reason, degree_words, reason

__all__ = [
    "ENGINE", "ROLES", "RULES", "BarFit", "BarShape", "Candidate", "Change", "Grid", "GridBar", "Habit", "LineIndex", "LinePlace", "Note", "NoteReading", "Phrase", "Place", "Placed", "Reason", "Recurrence", "Role", "Rule", "Shape", "SoloReading", "Tap", "changes_of", "chord_fit", "degree_words", "fit_bars", "habits", "in_order", "place", "read", "read_notes", "reason", "recurring_lines", "scale_fit", "shape", "swing_ratio",
]  # fmt: skip
