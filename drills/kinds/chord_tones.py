"""Chord tones."""

from __future__ import annotations

from drills.comparers.notes import echo_notes, mark_tones
from drills.marking_rules import NOTE_RULES, NOTES_HEADING, OTHER
from drills.question_kind import Alone, AnsweredBy, Keypad, Needs, Notes, QuestionKind, RuleTable
from drills.questions.tones import build_chord_tones

_RULES = (
    *NOTE_RULES,
    OTHER,
)

QUESTION_KIND = QuestionKind(
    id="chord-tones",
    place=90,
    name="Chord tones",
    short="Tones",
    asks="Name the chord tones of every chord.",
    examples=("D F A C",),
    keypad=Keypad.NOTES,
    notes=Notes(count=0, stacked=True),
    needs=Needs.NOTHING,
    parts=None,
    answered_by=AnsweredBy.NOTHING,
    hides_chart=False,
    tells_chords=True,
    key_in_words=None,
    minutes=7,
    alone=Alone(place=3, seconds=12, mixed=True, at_a_chord=True),
    table=RuleTable(4, NOTES_HEADING, _RULES),
    names_keys=False,
    upgrade=None,
    build=build_chord_tones,
    mark=mark_tones,
    echo=echo_notes,
)
