"""By heart, in a key called."""

from __future__ import annotations

from drills.comparers.by_heart import echo_by_heart, mark_by_heart
from drills.kinds.changes import QUESTION_KIND as CHANGES
from drills.question_kind import Alone, AnsweredBy, Keypad, Needs, Parts, QuestionKind
from drills.questions.by_heart import build_by_heart

QUESTION_KIND = QuestionKind(
    id="by-heart",
    place=40,
    name="By heart, in a key called",
    short="By heart",
    asks="Fill the empty form from memory, in the key that is called.",
    examples=("Dm7 G7", "C / / F7", "N.C."),
    keypad=Keypad.CHANGES,
    notes=None,
    needs=Needs.NOTHING,
    parts=Parts(label="What is written", whole="The chords of every bar", alone={"numbers": "The numbers alone"}),
    answered_by=AnsweredBy.CHART,
    hides_chart=True,
    tells_chords=True,
    key_in_words=None,
    minutes=5,
    alone=Alone(place=9, seconds=12, mixed=False, at_a_chord=False),
    table=CHANGES.table,
    names_keys=False,
    upgrade=None,
    build=build_by_heart,
    mark=mark_by_heart,
    echo=echo_by_heart,
)
