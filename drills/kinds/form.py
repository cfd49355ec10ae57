"""Form."""

from __future__ import annotations

from drills.comparers.form import echo_form, mark_form
from drills.marking_rules import OTHER
from drills.question_kind import Alone, AnsweredBy, Keypad, MarkingRule, Needs, QuestionKind, RuleTable
from drills.questions.form import build_form

_RULES = (
    MarkingRule(
        "form-exact",
        "The form, exactly",
        "Letters, bars or place are right, however set out.",
        1.0,
        1.0,
        "A A B A for AABA; 4 x 8 for 8 8 8 8",
    ),
    MarkingRule(
        "form-other-letters",
        "Right pattern, other letters",
        "The pattern of return is right, the letters are others.",
        0.75,
        0.75,
        "BBAB for AABA",
    ),
    MarkingRule(
        "form-coarser",
        "Divided otherwise",
        "The bars add up, but sections are joined or halved.",
        0.75,
        0.75,
        "16 16 for 8 8 8 8",
    ),
    MarkingRule(
        "form-one-section",
        "All but one section",
        "One section is changed, added or left out.",
        0.5,
        0.5,
        "ABBA for AABA",
    ),
    MarkingRule(
        "form-length-only",
        "Length of the whole only",
        "The number of bars in all is right; the sections were asked.",
        0.5,
        0.5,
        "32 for AABA",
    ),
    MarkingRule(
        "form-name-other-length",
        "Right name, other length",
        "The form is named rightly, with another number of bars.",
        0.75,
        0.75,
        "16-bar blues for a 12-bar blues",
    ),
    MarkingRule(
        "form-half-or-double",
        "Counted at half or double speed",
        "Exactly half or twice the number of bars.",
        0.5,
        0.5,
        "64 for 32",
    ),
    MarkingRule(
        "form-near",
        "One bar off",
        "The place or length is one bar off.",
        0.5,
        0.5,
        "16 for a bridge in bar 17",
    ),
    MarkingRule(
        "form-other-count",
        "Right place, counted on the chart",
        "The bridge is where it was said to be, by the number written on the chart; as played it has another.",
        1.0,
        1.0,
        "11 on a chart that writes the repeated A once, for bar 17 as played",
    ),
    MarkingRule(
        "form-letter-for-bar",
        "Section instead of bar",
        "The section is named, its bar was asked.",
        0.25,
        0.25,
        "B for bar 17",
    ),
    OTHER,
)

QUESTION_KIND = QuestionKind(
    id="form",
    place=20,
    name="Form",
    short="Form",
    asks="Name the sections, how long each is, and where the bridge starts.",
    examples=("AABA", "8 8 8 8", "32"),
    keypad=Keypad.FORM,
    notes=None,
    needs=Needs.NOTHING,
    parts=None,
    answered_by=AnsweredBy.FORM,
    hides_chart=True,
    tells_chords=False,
    key_in_words=None,
    minutes=3,
    alone=Alone(place=8, seconds=20, mixed=False, at_a_chord=False),
    table=RuleTable(2, "Form", _RULES),
    names_keys=False,
    upgrade=None,
    build=build_form,
    mark=mark_form,
    echo=echo_form,
)
