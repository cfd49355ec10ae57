"""Scale of every chord."""

from __future__ import annotations

from drills.comparers.scale import echo_scale, mark_scale
from drills.comparers.types import StoredKey
from drills.marking_rules import NOTE_RULES, NOTES_HEADING, OTHER
from drills.question_kind import Alone, AnsweredBy, Keypad, MarkingRule, Needs, QuestionKind, RuleTable
from drills.questions.scale import build_scale

_RULES = (
    *NOTE_RULES,
    MarkingRule(
        "scale-exact",
        "The scale and its note",
        "Six tenths for the scale, four for the notes that differ from the key.",
        1.0,
        1.0,
        "A mixolydian b13: C#",
    ),
    MarkingRule(
        "scale-same-notes",
        "The same notes, another name",
        "Named from another root or as a mode of another scale.",
        1.0,
        1.0,
        "C major for D dorian",
    ),
    MarkingRule(
        "scale-also",
        "Another scale used here",
        "A second scale that players use in that place is as right.",
        1.0,
        1.0,
        "locrian natural 9 for locrian",
    ),
    MarkingRule(
        "scale-one-note-off",
        "One note off",
        "All notes but one are the scale's.",
        0.5,
        0.5,
        "ionian for lydian",
    ),
    MarkingRule(
        "scale-fits-chord",
        "Fits the chord, not the place",
        "It has the notes of the chord, but not those of the key around it.",
        0.25,
        0.25,
        "whole tone for mixolydian",
    ),
    MarkingRule(
        "scale-name-only",
        "Right scale, notes not right",
        "The scale is right; which notes differ from the key is not.",
        0.6,
        0.6,
        "A mixolydian b13 alone",
    ),
    MarkingRule(
        "scale-notes-only",
        "Notes without the scale",
        "The notes that differ are named; the scale is not.",
        0.0,
        0.0,
        "C# for A mixolydian b13",
    ),
    OTHER,
)


def _in_words(key: StoredKey) -> str:
    return ", or ".join(f"{key['root']} {scale['name']}" for scale in key["scales"])


QUESTION_KIND = QuestionKind(
    id="scale",
    place=120,
    name="Scale of every chord",
    short="Scales",
    asks="Name one plain scale for every chord.",
    examples=("A mixolydian b13: C#", "D dorian: none"),
    keypad=Keypad.SCALE,
    notes=None,
    needs=Needs.MELODY,
    parts=None,
    answered_by=AnsweredBy.NOTHING,
    hides_chart=False,
    tells_chords=True,
    key_in_words=_in_words,
    minutes=7,
    alone=Alone(place=5, seconds=20, mixed=False, at_a_chord=True),
    table=RuleTable(8, NOTES_HEADING, _RULES),
    names_keys=False,
    upgrade=None,
    build=build_scale,
    mark=mark_scale,
    echo=echo_scale,
)
