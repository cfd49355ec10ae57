"""Nearest note."""

from __future__ import annotations

from drills.comparers.notes import echo_notes, mark_nearest
from drills.marking_rules import NOTE_RULES, NOTES_HEADING, OTHER
from drills.question_kind import Alone, AnsweredBy, Keypad, MarkingRule, Needs, Notes, QuestionKind, RuleTable
from drills.questions.tones import build_nearest

_RULES = (
    *NOTE_RULES,
    MarkingRule(
        "nearest-chord-tone",
        "A note of the chord, not the nearest",
        "It belongs to the next chord; another lies nearer.",
        0.4,
        0.4,
        "C for the note of Cmaj7 nearest to F",
    ),
    OTHER,
)

QUESTION_KIND = QuestionKind(
    id="nearest",
    place=130,
    name="Nearest note",
    short="Nearest",
    asks="Name the nearest note of the next chord.",
    examples=("Eb",),
    keypad=Keypad.NOTES,
    notes=Notes(count=1, stacked=False),
    needs=Needs.NOTHING,
    parts=None,
    answered_by=AnsweredBy.NOTHING,
    hides_chart=False,
    tells_chords=True,
    key_in_words=None,
    minutes=7,
    alone=Alone(place=4, seconds=10, mixed=True, at_a_chord=True),
    table=RuleTable(6, NOTES_HEADING, _RULES),
    names_keys=False,
    upgrade=None,
    build=build_nearest,
    mark=mark_nearest,
    echo=echo_notes,
)
