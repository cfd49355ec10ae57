"""The kinds of step an assignment can ask for, as one table: the kinds of question (`drills.kinds`), and what is not asked.

`how` says what a player does with a step of the kind and so which page it opens:

- ``quiz``: questions built from the chart, marked from the key stored at issue;
- ``log``: a dated list of what was done (recordings heard);
- ``hand-in``: a file, link or note that an instructor hears and accepts;
- ``in-person``: nothing to send; an instructor signs.
"""

from __future__ import annotations

from dataclasses import dataclass

from drills.kinds import kinds_that, question_kinds
from drills.question_kind import AnsweredBy, QuestionKind

QUIZ, LOG, HAND_IN, IN_PERSON = "quiz", "log", "hand-in", "in-person"
BY_EAR = "changes"  # the kind that is answered with the chart closed
BY_HEART = "by-heart"  # the kind that is answered from memory, in a key that is called
WRITE_OUT = "write-out"  # the kind whose hand-in is a solo written on staves under the changes
SOLO_NOTES = "solo-notes"  # the kind whose questions are made from a solo written out


@dataclass(frozen=True)
class StepKind:
    """One row of the table. `place` orders it; `asks` is the sentence a player reads; `short` heads a ledger column;
    `examples` are answers that a player may type, for the kinds that are asked as questions."""

    place: int
    id: str
    name: str
    how: str
    asks: str
    short: str
    examples: tuple[str, ...] = ()


_NOT_ASKED = (
    StepKind(
        10,
        "listening",
        "Listening",
        LOG,
        "Hear the recordings, the reference one most of all, and log each time.",
        "Heard",
    ),
    StepKind(
        70,
        "hand-in",
        "Hand-in",
        HAND_IN,
        "Send a recording, a link or a note for your instructor to hear.",
        "Handed in",
    ),
    StepKind(
        80, "sign-off", "Sign-off in person", IN_PERSON, "Play the tune for your instructor, without paper.", "Signed"
    ),
    StepKind(
        140,
        WRITE_OUT,
        "Write out a solo",
        HAND_IN,
        "Write down what is played in these bars, four bars to a system, and hand it in.",
        "Written out",
    ),
    StepKind(
        160,
        "recurs",
        "What comes back",
        HAND_IN,
        "Say what comes back in the solo: a line, or a note over a function, with its bars.",
        "Comes back",
    ),
    StepKind(
        170,
        "apply-line",
        "A line in other places",
        HAND_IN,
        "Play a line of the solo wherever else it fits: in the keys or on the tunes that are named.",
        "Carried",
    ),
)


def asked_as(kind: QuestionKind) -> StepKind:
    """The kind of step that asks questions of a kind."""
    return StepKind(kind.place, kind.id, kind.name, QUIZ, kind.asks, kind.short, kind.examples)


_ASKED = tuple(asked_as(kind) for kind in question_kinds().values())
SOLO_KINDS = (WRITE_OUT, SOLO_NOTES, "recurs", "apply-line")  # those that are about a solo
KINDS: dict[str, StepKind] = {row.id: row for row in sorted((*_NOT_ASKED, *_ASKED), key=lambda row: row.place)}


def kind_choices() -> list[tuple[str, str]]:
    """Id and name of every kind. Columns name this function, so that a new kind changes no table."""
    return [(row.id, row.name) for row in KINDS.values()]


KIND_CHOICES = kind_choices()  # for shapes that are described once


def quiz_kinds() -> tuple[str, ...]:
    """The kinds that are asked and marked as questions."""
    return tuple(row.id for row in KINDS.values() if row.how == QUIZ)


def closing_kinds() -> tuple[str, ...]:
    """The kinds that are answered with the charts of the tune closed."""
    return kinds_that(lambda kind: kind.answered_by is AnsweredBy.CHORDS)
