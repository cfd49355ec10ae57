"""The kinds of step an assignment can ask for, as one table.

`how` says what a player does with a step of the kind and so which page it opens:

- ``quiz``: questions built from the chart, marked from the key stored at issue;
- ``log``: a dated list of what was done (recordings heard);
- ``hand-in``: a file, link or note that an instructor hears and accepts;
- ``in-person``: nothing to send; an instructor signs.
"""
from __future__ import annotations

from dataclasses import dataclass

QUIZ, LOG, HAND_IN, IN_PERSON = "quiz", "log", "hand-in", "in-person"
BY_EAR = "changes"  # the kind that is answered with the chart closed


@dataclass(frozen=True)
class StepKind:
    """One row of the table. `asks` is the sentence a player reads; `short` heads a ledger column."""

    id: str
    name: str
    how: str
    asks: str
    short: str


_ROWS = (
    StepKind("listening", "Listening", LOG,
             "Hear the recordings, the reference one most of all, and log each time.", "Heard"),
    StepKind("form", "Form", QUIZ,
             "Name the sections, how long each is, and where the bridge starts.", "Form"),
    StepKind("changes", "Changes by ear", QUIZ,
             "Take down what sounds in every bar, from the recording, with the chart closed.", "By ear"),
    StepKind("function", "Function of every chord", QUIZ,
             "Say what every chord does: its number, and what it leads to.", "Function"),
    StepKind("key-areas", "Key areas", QUIZ,
             "Say from which bar the tune stands in which key.", "Keys"),
    StepKind("hand-in", "Hand-in", HAND_IN,
             "Send a recording, a link or a note for your instructor to hear.", "Handed in"),
    StepKind("sign-off", "Sign-off in person", IN_PERSON,
             "Play the tune for your instructor, without paper.", "Signed"),
    StepKind("chord-tones", "Chord tones", QUIZ, "Name the chord tones of every chord.", "Tones"),
    StepKind("guide-tones", "Guide tones", QUIZ, "Name the 3rd and 7th of every chord.", "3rds, 7ths"),
    StepKind("guide-line", "Guide-tone line", QUIZ,
             "Write the smoothest line of 3rds and 7ths through the form.", "Line"),
    StepKind("scale", "Scale of every chord", QUIZ, "Name one plain scale for every chord.", "Scales"),
    StepKind("nearest", "Nearest note", QUIZ, "Name the nearest note of the next chord.", "Nearest"),
)
KINDS: dict[str, StepKind] = {row.id: row for row in _ROWS}
KIND_CHOICES = [(row.id, row.name) for row in _ROWS]


def quiz_kinds() -> tuple[str, ...]:
    """The kinds that are asked and marked as questions."""
    return tuple(row.id for row in _ROWS if row.how == QUIZ)
