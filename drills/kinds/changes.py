"""Changes by ear."""

from __future__ import annotations

from drills.comparers.changes import echo_changes, mark_changes
from drills.question_kind import Needs, QuestionKind
from drills.questions.changes import build_changes

QUESTION_KIND = QuestionKind(
    id="changes",
    place=30,
    name="Changes by ear",
    short="By ear",
    asks="Take down what sounds in every bar, from the recording, with the chart closed.",
    examples=("Dm7 G7", "C / / F7", "N.C."),
    needs=Needs.RECORDING,
    build=build_changes,
    mark=mark_changes,
    echo=echo_changes,
)
