"""What each note is."""

from __future__ import annotations

from drills.comparers.solo_note import echo_solo_note, mark_solo_note
from drills.question_kind import Needs, QuestionKind
from drills.questions.solo_notes import build_solo_notes

QUESTION_KIND = QuestionKind(
    id="solo-notes",
    place=150,
    name="What each note is",
    short="Notes",
    asks="Say of every note of the passage what it is over its chord, and what it does there.",
    examples=("b9 approach", "3 chord tone", "#11 tension"),
    needs=Needs.SOLO,
    build=build_solo_notes,
    mark=mark_solo_note,
    echo=echo_solo_note,
)
