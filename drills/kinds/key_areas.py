"""Key areas."""

from __future__ import annotations

from drills.comparers.key_areas import echo_key_areas, mark_key_areas
from drills.question_kind import Needs, QuestionKind
from drills.questions.key_areas import build_key_areas

QUESTION_KIND = QuestionKind(
    id="key-areas",
    place=60,
    name="Key areas",
    short="Keys",
    asks="Say from which bar the tune stands in which key.",
    examples=("1 F, 9 Ab, 17 F", "9 beat 3 Ab"),
    needs=Needs.NOTHING,
    build=build_key_areas,
    mark=mark_key_areas,
    echo=echo_key_areas,
)
