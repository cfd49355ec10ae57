"""What each note is."""

from __future__ import annotations

from drills.comparers.solo_note import echo_solo_note, mark_solo_note
from drills.marking_rules import OTHER
from drills.question_kind import Alone, AnsweredBy, Keypad, MarkingRule, Needs, Parts, QuestionKind, RuleTable
from drills.questions.solo_notes import build_solo_notes

_RULES = (
    MarkingRule(
        "solo-exact",
        "Degree and role",
        "What the note is over its chord, and what it does there.",
        1.0,
        1.0,
        "b9, approach",
    ),
    MarkingRule(
        "solo-also",
        "Another way to hear it",
        "The degree is right; what it does is a second reading that was accepted.",
        1.0,
        1.0,
        "b9, enclosure, where both neighbours are played",
    ),
    MarkingRule(
        "solo-near",
        "Degree right, role near",
        "The degree is right; what it does is a neighbour of what was asked.",
        0.8,
        0.8,
        "approach for enclosure",
    ),
    MarkingRule(
        "solo-degree",
        "Degree alone",
        "The degree is right; what the note does is missing or another.",
        0.6,
        0.6,
        "b9 for b9, approach",
    ),
    MarkingRule(
        "solo-role",
        "Role alone",
        "What the note does is right; the degree is missing or another.",
        0.3,
        0.3,
        "approach for b9, approach",
    ),
    OTHER,
)

QUESTION_KIND = QuestionKind(
    id="solo-notes",
    place=150,
    name="What each note is",
    short="Notes",
    asks="Say of every note of the passage what it is over its chord, and what it does there.",
    examples=("b9 approach", "3 chord tone", "#11 tension"),
    keypad=Keypad.SOLO_NOTES,
    notes=None,
    needs=Needs.SOLO,
    parts=Parts(label="Asked of each note", whole="Its degree and what it does", alone={"degree": "The degree alone"}),
    answered_by=AnsweredBy.ANALYSIS,
    hides_chart=False,
    tells_chords=True,
    key_in_words=None,
    minutes=7,
    alone=Alone(place=11, seconds=12, mixed=False, at_a_chord=False),
    table=RuleTable(10, "What each note of a solo is", _RULES),
    names_keys=False,
    upgrade=None,
    build=build_solo_notes,
    mark=mark_solo_note,
    echo=echo_solo_note,
)
