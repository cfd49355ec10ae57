"""An answer accepted for everyone of the ensemble who wrote it, at one place or wherever the same stands."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction

from studio.models import User

from ..marks import Marked
from ..models import AcceptedAnswer, Attempt, MarkOverride, Step
from ..selectors.accepted import acceptance, squeezed
from .given import Given, give_marks


@transaction.atomic
def accept_answer(
    *, step: Step, question: str, answer: str, points: float, reason: str, by: User, everywhere: bool
) -> int:
    """Give `points` to everyone of the step who wrote `answer` there, and to whoever writes it later. Returns how many marks
    changed; marks that a person gave before, and those that earn as much already, stay. Twice accepts once."""
    rows = (
        Attempt.objects.select_for_update(of=("self",))
        .filter(step=step)
        .select_related("step__assignment")
        .order_by("pk")
    )
    attempts = {
        a.pk: a for a in rows
    }  # open ones too: one that is handed in meanwhile comes before or after, never between
    found = acceptance(step, question, answer)
    if found is None:
        return 0
    AcceptedAnswer.objects.bulk_create(
        [
            AcceptedAnswer(step=step, question=q["id"], answer=found.answer, points=points, reason=reason, by=by)
            for q in found.at(everywhere)
        ],
        update_conflicts=True,
        unique_fields=["step", "question", "answer"],
        update_fields=["points", "reason", "by"],
    )
    given = [
        Given(attempts[row.attempt.pk], row.question, points, reason, MarkOverride.Origin.ACCEPTED)
        for row in found.whose(everywhere)
        if row.points < points and row.attempt.pk in attempts
    ]
    if given:
        give_marks(given, by=by, why=f"Answer accepted by {by.name}: {reason}")
    return len(given)


def accept_known(attempt: Attempt, marked: Sequence[Marked]) -> float:
    """At hand-in: answers accepted before earn what was given for them, in the name of who accepted them. Returns the points
    of the sheet; the caller saves the attempt."""
    known = {
        (row.question, row.answer): row
        for row in AcceptedAnswer.objects.filter(step=attempt.step_id).select_related("by")
    }
    total, rows = 0.0, []
    for mark in marked:
        found = known.get((mark.question, squeezed(mark.answer)))
        better = found is not None and found.points > mark.points
        total += found.points if found is not None and better else mark.points
        if found is not None and better:
            attempt.version += 1
            rows.append(
                MarkOverride(
                    attempt=attempt,
                    question=mark.question,
                    points=found.points,
                    reason=found.reason,
                    by=found.by,
                    origin=MarkOverride.Origin.ACCEPTED,
                    version=attempt.version,
                )
            )
    MarkOverride.objects.bulk_create(rows)
    return round(total, 4)
