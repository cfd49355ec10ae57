"""An answer accepted for everyone of the ensemble who wrote it, at one place or wherever the same stands."""

from __future__ import annotations

import uuid
from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from studio.models import User

from ..marks import Marked
from ..models import AcceptedAnswer, Attempt, Mark, MarkOverride, Step
from ..selectors.accepted import acceptance, squeezed
from .given import Given, give_marks


@transaction.atomic
def accept_answer(
    *, step: Step, question: str, answer: str, points: float, reason: str, by: User, everywhere: bool
) -> int:
    """Give `points` to everyone of the step who wrote `answer` there, and to whoever writes it later. Returns how many marks
    changed; marks that a person gave before, and those that earn as much already, stay. Twice accepts once."""
    attempts = _locked(step)
    found = acceptance(step, question, answer)
    if found is None:
        return 0
    together = uuid.uuid4()
    AcceptedAnswer.objects.bulk_create(
        [
            AcceptedAnswer(
                step=step, question=q["id"], answer=found.answer, points=points, reason=reason, by=by, together=together
            )
            for q in found.at(everywhere)
        ],
        update_conflicts=True,
        unique_fields=["step", "question", "answer"],
        update_fields=["points", "reason", "by", "together", "withdrawn", "withdrawn_by"],
    )
    given = [
        Given(attempts[row.attempt.pk], row.question, points, reason, MarkOverride.Origin.ACCEPTED)
        for row in found.whose(everywhere)
        if row.points < points and row.attempt.pk in attempts
    ]
    if given:
        give_marks(given, by=by, why=f"Answer accepted by {by.name}: {reason}")
    return len(given)


def _locked(step: Step) -> dict[int, Attempt]:
    """All attempts of a step; open ones too: one that is handed in meanwhile comes before or after, never between."""
    rows = Attempt.objects.select_for_update(of=("self",)).filter(step=step).select_related("step__assignment")
    return {attempt.pk: attempt for attempt in rows.order_by("pk")}


@transaction.atomic
def take_back(*, accepted: AcceptedAnswer, by: User) -> int:
    """Accept an answer no more, with all that was accepted by the same press. Every mark that it gave gets the one beside it
    that stood before (of the key, or a person's), and what was stays as history. Returns how many marks changed; marks that a
    person gave since stay, and twice takes back once."""
    step, attempts = accepted.step, _locked(accepted.step)
    same = AcceptedAnswer.objects.select_for_update().filter(step=step, withdrawn=None)
    same = same.filter(together=accepted.together) if accepted.together else same.filter(pk=accepted.pk)
    questions = list(same.values_list("question", flat=True))
    if not questions:
        return 0
    same.update(withdrawn=timezone.now(), withdrawn_by=by)
    given = [row for row in _as_before(step, questions, accepted.answer) if row[0] in attempts]
    rows = [_restored(attempts[pk], question, mark, before) for pk, question, mark, before in given]
    if rows:
        give_marks(rows, by=by, why=f"{by.name} took an accepted answer back")
    return len(rows)


def _as_before(step: Step, questions: Sequence[str], answer: str) -> list[tuple[int, str, Mark, MarkOverride | None]]:
    """Attempt, question, computed mark and the override that stood before, of every mark that an acceptance gave and that
    counts still: two queries."""
    history: dict[tuple[int, str], list[MarkOverride]] = {}
    for row in MarkOverride.objects.filter(attempt__step=step, question__in=questions).order_by("id"):
        history.setdefault((row.attempt_id, row.question), []).append(row)
    found = []
    for mark in Mark.objects.filter(attempt__step=step, question__in=questions):
        rows = history.get((mark.attempt_id, mark.question), [])
        if rows and rows[-1].origin == MarkOverride.Origin.ACCEPTED and squeezed(mark.answer) == answer:
            before = next((row for row in reversed(rows) if row.origin != MarkOverride.Origin.ACCEPTED), None)
            found.append((mark.attempt_id, mark.question, mark, before))
    return found


def _restored(attempt: Attempt, question: str, mark: Mark, before: MarkOverride | None) -> Given:
    said = (
        before.reason if before is not None else "This answer is not accepted any more: the mark is the computed one."
    )
    stood = before or mark
    return Given(
        attempt, question, stood.points, said, MarkOverride.Origin.BACK,
        before.rule if before else "", before.feedback if before else "",
    )  # fmt: skip


def accept_known(attempt: Attempt, marked: Sequence[Marked]) -> float:
    """At hand-in: answers accepted before earn what was given for them, in the name of who accepted them. Returns the points
    of the sheet; the caller saves the attempt."""
    known = {
        (row.question, row.answer): row
        for row in AcceptedAnswer.objects.filter(step=attempt.step_id, withdrawn=None).select_related("by")
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
