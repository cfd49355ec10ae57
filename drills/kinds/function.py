"""Function of every chord."""

from __future__ import annotations

from drills.comparers.function import echo_function, mark_function
from drills.question_kind import Needs, QuestionKind
from drills.questions.function import build_function

QUESTION_KIND = QuestionKind(
    id="function",
    place=50,
    name="Function of every chord",
    short="Function",
    asks="Say what every chord does: its number, and what it leads to.",
    examples=("ii7", "5 of 2", "V7/ii", "sub 5"),
    needs=Needs.NOTHING,
    build=build_function,
    mark=mark_function,
    echo=echo_function,
)
