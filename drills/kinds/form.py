"""Form."""

from __future__ import annotations

from drills.comparers.form import echo_form, mark_form
from drills.question_kind import Needs, QuestionKind
from drills.questions.form import build_form

QUESTION_KIND = QuestionKind(
    id="form",
    place=20,
    name="Form",
    short="Form",
    asks="Name the sections, how long each is, and where the bridge starts.",
    examples=("AABA", "8 8 8 8", "32"),
    needs=Needs.NOTHING,
    build=build_form,
    mark=mark_form,
    echo=echo_form,
)
