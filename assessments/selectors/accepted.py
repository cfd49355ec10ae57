"""Who wrote an answer, and where: what accepting it for everyone of the ensemble would change. Nothing here writes."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import OuterRef, Subquery, Value
from django.db.models.functions import Coalesce

from drills.questions import prompt_for

from ..kinds import BY_HEART
from ..models import AcceptedAnswer, Attempt, Mark, MarkOverride, Quiz, Step

PLACE = frozenset(
    {
        "event",
        "events",
        "bar",
        "beat",
        "pass",
        "section",
        "played",
        "goal",
        "resolution",
        "new_area",
        "neighbours",
        "patterns",
        "reason",
        "rule",
        "sound",
        "alternatives",
        "overruled",
    }
)
"""Parts of a key that say where it stands or why: without them two keys can be the same."""


UNDECIDED = ("", MarkOverride.Origin.KEY, MarkOverride.Origin.BACK)
"""Where the mark of an answer came from the key, not from a person who looked at it."""


@dataclass(frozen=True)
class Wrote:
    """One player who wrote the answer at one question, in one go; `points` as they count now."""

    attempt: Attempt
    question: str
    points: float


@dataclass(frozen=True)
class Acceptance:
    """An answer at one question (`here`) and at every place where the same stands (`same`, `here` among them), with who
    wrote it there and earns less than everything. `decided` were marked by a person already and stay."""

    step: Step
    answer: str
    here: Mapping[str, Any]
    same: tuple[Mapping[str, Any], ...]
    wrote: tuple[Wrote, ...]
    decided: int = 0

    def at(self, everywhere: bool) -> tuple[Mapping[str, Any], ...]:
        """The questions that are meant."""
        return self.same if everywhere else (self.here,)

    def whose(self, everywhere: bool) -> tuple[Wrote, ...]:
        """Who is concerned."""
        ids = {q["id"] for q in self.at(everywhere)}
        return tuple(row for row in self.wrote if row.question in ids)


def squeezed(answer: str) -> str:
    """An answer without blanks at its ends and with single ones inside: the same thing written."""
    return " ".join(answer.split())


def with_counting_points(rows: Any) -> Any:
    """Marks with `counts` (the points that count, a person's in place of the computed) and `origin` ("" when computed)."""
    newest = MarkOverride.objects.filter(attempt=OuterRef("attempt"), question=OuterRef("question")).order_by("-id")
    return rows.annotate(
        counts=Coalesce(Subquery(newest.values("points")[:1]), "points"),
        origin=Coalesce(Subquery(newest.values("origin")[:1]), Value("")),
    )


def acceptance(step: Step, question: str, answer: str) -> Acceptance | None:
    """What accepting `answer` at this question would change; None for a question that the step does not ask, and for changes
    by heart: each player is called in another key, so the same words say another chord. Two queries."""
    if step.kind == BY_HEART:
        return None
    questions = [q | {"prompt": prompt_for(q)} for q in Quiz.objects.get(step=step).questions]
    here = next((q for q in questions if q["id"] == question), None)
    if here is None:
        return None
    same = tuple(q for q in questions if _stands(q) == _stands(here))
    text = squeezed(answer)
    rows = with_counting_points(
        Mark.objects.filter(attempt__step=step, question__in=[q["id"] for q in same], points__lt=1)
    )
    wrote = [
        row
        for row in rows.select_related("attempt__player").order_by("attempt__player__name", "attempt", "position")
        if squeezed(row.answer) == text
    ]
    mine = tuple(Wrote(row.attempt, row.question, row.counts) for row in wrote if row.origin in UNDECIDED)
    return Acceptance(step, text, here, same, tuple(row for row in mine if row.points < 1), len(wrote) - len(mine))


def _stands(question: Mapping[str, Any]) -> str:
    key = {name: value for name, value in question["key"].items() if name not in PLACE}
    return json.dumps([(question.get("context") or {}).get("chord"), key], sort_keys=True)


@dataclass(frozen=True)
class Standing:
    """An answer that was accepted by one press, at these questions, and counts still."""

    first: AcceptedAnswer
    questions: tuple[str, ...]


def accepted_of(step: Step) -> list[Standing]:
    """What is accepted for everyone of the step, newest first: one query."""
    groups: dict[Any, list[AcceptedAnswer]] = {}
    for row in AcceptedAnswer.objects.filter(step=step, withdrawn=None).select_related("by").order_by("-id"):
        groups.setdefault(row.together or row.pk, []).append(row)
    return [Standing(rows[-1], tuple(row.question for row in reversed(rows))) for rows in groups.values()]
