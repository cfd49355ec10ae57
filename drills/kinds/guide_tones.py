"""Guide tones."""

from __future__ import annotations

from drills.comparers.notes import echo_notes, mark_tones
from drills.question_kind import Needs, QuestionKind
from drills.questions.tones import build_guide_tones

QUESTION_KIND = QuestionKind(
    id="guide-tones",
    place=100,
    name="Guide tones",
    short="3rds, 7ths",
    asks="Name the 3rd and 7th of every chord.",
    examples=("Eb D",),
    needs=Needs.NOTHING,
    build=build_guide_tones,
    mark=mark_tones,
    echo=echo_notes,
)
