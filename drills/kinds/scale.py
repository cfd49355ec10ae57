"""Scale of every chord."""

from __future__ import annotations

from drills.comparers.scale import echo_scale, mark_scale
from drills.question_kind import Needs, QuestionKind
from drills.questions.scale import build_scale

QUESTION_KIND = QuestionKind(
    id="scale",
    place=120,
    name="Scale of every chord",
    short="Scales",
    asks="Name one plain scale for every chord.",
    examples=("A mixolydian b13: C#", "D dorian: none"),
    needs=Needs.MELODY,
    build=build_scale,
    mark=mark_scale,
    echo=echo_scale,
)
