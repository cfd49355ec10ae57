"""Guide-tone line."""

from __future__ import annotations

from drills.comparers.guide_line import mark_guide_line
from drills.comparers.notes import echo_notes
from drills.question_kind import Needs, QuestionKind
from drills.questions.guide_line import build_guide_line

QUESTION_KIND = QuestionKind(
    id="guide-line",
    place=110,
    name="Guide-tone line",
    short="Line",
    asks="Write the smoothest line of 3rds and 7ths through the form.",
    examples=("F F E D",),
    needs=Needs.NOTHING,
    build=build_guide_line,
    mark=mark_guide_line,
    echo=echo_notes,
)
