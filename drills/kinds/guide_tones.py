"""Guide tones."""

from __future__ import annotations

from drills.comparers.notes import echo_notes, mark_tones
from drills.marking_rules import NOTE_RULES, NOTES_HEADING, OTHER
from drills.question_kind import Alone, AnsweredBy, Keypad, Needs, Notes, QuestionKind, RuleTable
from drills.questions.tones import build_guide_tones

_RULES = (
    *NOTE_RULES,
    OTHER,
)

QUESTION_KIND = QuestionKind(
    id="guide-tones",
    place=100,
    name="Guide tones",
    short="3rds, 7ths",
    asks="Name the 3rd and 7th of every chord.",
    examples=("Eb D",),
    keypad=Keypad.NOTES,
    notes=Notes(count=2, stacked=True),
    needs=Needs.NOTHING,
    parts=None,
    answered_by=AnsweredBy.NOTHING,
    hides_chart=False,
    tells_chords=True,
    key_in_words=None,
    minutes=7,
    alone=Alone(place=2, seconds=8, mixed=True, at_a_chord=True),
    table=RuleTable(5, NOTES_HEADING, _RULES),
    names_keys=False,
    upgrade=None,
    build=build_guide_tones,
    mark=mark_tones,
    echo=echo_notes,
)
