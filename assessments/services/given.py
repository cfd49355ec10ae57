"""Marks that a person gives, on one sheet or on many at once: set beside the computed ones, counted, told."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.urls import reverse

from studio.audit import record_each
from studio.models import AuditEntry, User
from studio.notices import notify_each_once

from ..kinds import QUIZ
from ..models import Attempt, Evidence, Mark, MarkOverride
from ..selectors.ledger import standing_rows
from .evidence import evidence_row, withdraw


@dataclass(frozen=True)
class Given:
    """One mark for one question of one attempt. The attempt is locked and read with its step and assignment."""

    attempt: Attempt
    question: str
    points: float
    reason: str
    origin: str = MarkOverride.Origin.HAND
    rule: str = ""
    feedback: str = ""


def give_marks(rows: Sequence[Given], *, by: User, why: str) -> list[MarkOverride]:
    """Write the marks, count their sheets again, and bring the ledger up to them: a fixed number of queries.

    Evidence of a sheet whose mark changed is withdrawn and added anew; what did not count before does not count now.
    """
    attempts = {row.attempt.pk: row.attempt for row in rows}
    made = []
    for row in rows:
        row.attempt.version += 1
        made.append(
            MarkOverride(
                attempt=row.attempt,
                question=row.question,
                points=row.points,
                reason=row.reason[:400],
                origin=row.origin,
                rule=row.rule,
                feedback=row.feedback,
                by=by,
                version=row.attempt.version,
            )
        )
    made = MarkOverride.objects.bulk_create(made)
    said = [
        (row.attempt.player_id, f"Mark given: {row.attempt.step.name}, {row.points:g} of 1 at one place")
        for row in rows
    ]
    record_each(AuditEntry.Kind.OVERRULE, said, by=by)
    before = {pk: attempt.percent for pk, attempt in attempts.items()}
    for pk, points in _counted(attempts).items():
        attempts[pk].points = points
    Attempt.objects.bulk_update(attempts.values(), ["points", "version"])
    changed = [attempt for pk, attempt in attempts.items() if attempt.percent != before[pk]]
    _bring_ledger_up(changed, by, why)
    _tell(list(attempts.values()))
    return made


def _counted(attempts: dict[int, Attempt]) -> dict[int, float]:
    """The points of each sheet: the computed ones, the newest that a person gave in their place."""
    points: dict[int, dict[str, float]] = defaultdict(dict)
    for model in (Mark.objects.order_by("position"), MarkOverride.objects.order_by("id")):
        for pk, question, value in model.filter(attempt__in=attempts).values_list("attempt", "question", "points"):
            points[pk][question] = value
    return {pk: round(sum(found.values()), 4) for pk, found in points.items()}


def _bring_ledger_up(attempts: Sequence[Attempt], by: User, why: str) -> None:
    counted = set(standing_rows(attempt__in=attempts).values_list("attempt", flat=True))
    withdraw(why=why, by=by, attempt__in=attempts)
    Evidence.objects.bulk_create(
        [
            quiz_evidence(attempt, by)
            for attempt in attempts
            if attempt.status != Attempt.Status.RETURNED and (attempt.pk in counted or not attempt.after_answers)
        ]
    )


def quiz_evidence(attempt: Attempt, by: User) -> Evidence:
    """The fact that a reviewed quiz is, not saved yet."""
    assert attempt.step.about.how == QUIZ
    how = f"after the answers were shown; counted by {by.name}" if attempt.after_answers else "reviewed"
    return evidence_row(
        step=attempt.step,
        player_id=attempt.player_id,
        attempt=attempt,
        by=by,
        percent=attempt.percent or 0,
        on=attempt.handed_in,
        what=f"{attempt.step.name}: {attempt.percent}% (attempt {attempt.number}, {how})",
    )


def _tell(attempts: Sequence[Attempt]) -> None:
    """Those who were told of the review already; before it, the review tells of everything at once."""
    notify_each_once(
        "reviewed",
        [
            (
                attempt.player_id,
                f"A mark was changed in {attempt.step.name}: {attempt.step.assignment.title}",
                reverse("work:attempt", args=[attempt.pk]),
            )
            for attempt in attempts
            if attempt.status in (Attempt.Status.REVIEWED, Attempt.Status.RETURNED)
        ],
    )
