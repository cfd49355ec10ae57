"""Nearest note."""

from __future__ import annotations

from drills.comparers.notes import echo_notes, mark_nearest
from drills.question_kind import Needs, QuestionKind
from drills.questions.tones import build_nearest

QUESTION_KIND = QuestionKind(
    id="nearest",
    place=130,
    name="Nearest note",
    short="Nearest",
    asks="Name the nearest note of the next chord.",
    examples=("Eb",),
    needs=Needs.NOTHING,
    build=build_nearest,
    mark=mark_nearest,
    echo=echo_notes,
)
