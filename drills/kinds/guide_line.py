"""Guide-tone line."""

from __future__ import annotations

from drills.comparers.guide_line import mark_guide_line
from drills.comparers.notes import echo_notes
from drills.marking_rules import NOTE_RULES, NOTES_HEADING, OTHER
from drills.question_kind import Alone, AnsweredBy, Keypad, MarkingRule, Needs, Notes, QuestionKind, RuleTable
from drills.questions.guide_line import build_guide_line

_RULES = (
    *NOTE_RULES,
    MarkingRule(
        "line-chord-tone",
        "A note of the chord, not a guide tone",
        "It belongs to the chord, but is not its 3rd or 7th.",
        0.4,
        0.4,
        "G on G7",
    ),
    MarkingRule(
        "line-not-smoothest",
        "Right notes, not the smoothest way",
        "Every note is a 3rd or 7th; three tenths of the points fall as the line moves more than it must.",
        0.85,
        0.85,
        "F B C for F F E",
    ),
    OTHER,
)

QUESTION_KIND = QuestionKind(
    id="guide-line",
    place=110,
    name="Guide-tone line",
    short="Line",
    asks="Write the smoothest line of 3rds and 7ths through the form.",
    examples=("F F E D",),
    keypad=Keypad.NOTES,
    notes=Notes(count=0, stacked=False),
    needs=Needs.NOTHING,
    parts=None,
    answered_by=AnsweredBy.NOTHING,
    hides_chart=False,
    tells_chords=True,
    key_in_words=None,
    minutes=7,
    alone=Alone(place=6, seconds=90, mixed=False, at_a_chord=False),
    table=RuleTable(7, NOTES_HEADING, _RULES),
    names_keys=False,
    upgrade=None,
    build=build_guide_line,
    mark=mark_guide_line,
    echo=echo_notes,
)
