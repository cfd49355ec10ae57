"""From stored questions and the answers that stand to marks. Pure: no database, no re-analysis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from drills.kinds import question_kind
from drills.marking import Context, Strictness, key_after, mark


@dataclass(frozen=True)
class Marked:
    """One marked question: 0..1 `points`, the named `rule`, and the answer as it was understood."""

    question: str
    position: int
    answer: str
    points: float
    rule: str
    feedback: str
    understood: str


def mark_answers(
    questions: Sequence[Mapping[str, Any]],
    answers: Mapping[str, str],
    strictness: Strictness,
    *,
    home: str = "",
    written: str = "P1",
) -> tuple[Marked, ...]:
    """Mark every question, in the order of the form; a blank one is marked too.

    `home` is the home key in concert pitch; a key typed in front of an answer ("Ab: 2") stays in force for
    the answers after it. `written` is the interval from concert pitch to the pitch the player reads.
    """
    key, done = home, []
    for position, question in enumerate(questions):
        text = answers.get(question["id"], "")
        found = mark(question["kind"], question["key"], text, strictness, Context(key=key, written=written))
        done.append(Marked(question["id"], position, text, found.points, found.rule, found.feedback, found.understood))
        if question_kind(question["kind"]).names_keys:
            key = key_after(text, key, written)
    return tuple(done)
