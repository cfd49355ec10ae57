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
BY_HEART = "by-heart"  # the kind that is answered from memory, in a key that is called
WRITE_OUT = "write-out"  # the kind whose hand-in is a solo written on staves under the changes
SOLO_NOTES = "solo-notes"  # the kind whose questions are made from a solo written out


@dataclass(frozen=True)
class StepKind:
    """One row of the table. `asks` is the sentence a player reads; `short` heads a ledger column; `examples` are answers
    that a player may type, for the kinds that are asked as questions."""

    id: str
    name: str
    how: str
    asks: str
    short: str
    examples: tuple[str, ...] = ()


_ROWS = (
    StepKind(
        "listening", "Listening", LOG, "Hear the recordings, the reference one most of all, and log each time.", "Heard"
    ),
    StepKind(
        "form",
        "Form",
        QUIZ,
        "Name the sections, how long each is, and where the bridge starts.",
        "Form",
        ("AABA", "8 8 8 8", "32"),
    ),
    StepKind(
        "changes",
        "Changes by ear",
        QUIZ,
        "Take down what sounds in every bar, from the recording, with the chart closed.",
        "By ear",
        ("Dm7 G7", "C / / F7", "N.C."),
    ),
    StepKind(
        BY_HEART,
        "By heart, in a key called",
        QUIZ,
        "Fill the empty form from memory, in the key that is called.",
        "By heart",
        ("Dm7 G7", "C / / F7", "N.C."),
    ),
    StepKind(
        "function",
        "Function of every chord",
        QUIZ,
        "Say what every chord does: its number, and what it leads to.",
        "Function",
        ("ii7", "5 of 2", "V7/ii", "sub 5"),
    ),
    StepKind(
        "key-areas",
        "Key areas",
        QUIZ,
        "Say from which bar the tune stands in which key.",
        "Keys",
        ("1 F, 9 Ab, 17 F", "9 beat 3 Ab"),
    ),
    StepKind(
        "hand-in", "Hand-in", HAND_IN, "Send a recording, a link or a note for your instructor to hear.", "Handed in"
    ),
    StepKind(
        "sign-off", "Sign-off in person", IN_PERSON, "Play the tune for your instructor, without paper.", "Signed"
    ),
    StepKind("chord-tones", "Chord tones", QUIZ, "Name the chord tones of every chord.", "Tones", ("D F A C",)),
    StepKind("guide-tones", "Guide tones", QUIZ, "Name the 3rd and 7th of every chord.", "3rds, 7ths", ("Eb D",)),
    StepKind(
        "guide-line",
        "Guide-tone line",
        QUIZ,
        "Write the smoothest line of 3rds and 7ths through the form.",
        "Line",
        ("F F E D",),
    ),
    StepKind(
        "scale",
        "Scale of every chord",
        QUIZ,
        "Name one plain scale for every chord.",
        "Scales",
        ("A mixolydian b13: C#", "D dorian: none"),
    ),
    StepKind("nearest", "Nearest note", QUIZ, "Name the nearest note of the next chord.", "Nearest", ("Eb",)),
    StepKind(
        WRITE_OUT,
        "Write out a solo",
        HAND_IN,
        "Write down what is played in these bars, four bars to a system, and hand it in.",
        "Written out",
    ),
    StepKind(
        SOLO_NOTES,
        "What each note is",
        QUIZ,
        "Say of every note of the passage what it is over its chord, and what it does there.",
        "Notes",
        ("b9 approach", "3 chord tone", "#11 tension"),
    ),
    StepKind(
        "recurs",
        "What comes back",
        HAND_IN,
        "Say what comes back in the solo: a line, or a note over a function, with its bars.",
        "Comes back",
    ),
    StepKind(
        "apply-line",
        "A line in other places",
        HAND_IN,
        "Play a line of the solo wherever else it fits: in the keys or on the tunes that are named.",
        "Carried",
    ),
)
SOLO_KINDS = (WRITE_OUT, SOLO_NOTES, "recurs", "apply-line")  # those that are about a solo
KINDS: dict[str, StepKind] = {row.id: row for row in _ROWS}
KIND_CHOICES = [(row.id, row.name) for row in _ROWS]


def quiz_kinds() -> tuple[str, ...]:
    """The kinds that are asked and marked as questions."""
    return tuple(row.id for row in _ROWS if row.how == QUIZ)
