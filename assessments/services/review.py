"""Reviewing: comments are added, overrides stand beside marks, work is accepted or returned.

Whatever changes the outcome carries the `version` of the sheet that the reviewer read. If another reviewer
was first the call raises `Stale`; the caller shows the sheet as it is now with the typed words still there.
Comments only ever add, so they need no version.
"""

from __future__ import annotations

import uuid

from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from studio.happenings import Kind, happened
from studio.models import User
from studio.notices import notify, notify_once

from ..kinds import HAND_IN, QUIZ
from ..models import Attempt, Comment, MarkOverride
from ..selectors.ledger import standing_rows
from .assign import Stale
from .evidence import add_evidence, withdraw
from .given import Given, give_marks, quiz_evidence
from .happenings import ids_of

HAPPENINGS = {
    Attempt.Status.REVIEWED: Kind.REVIEWED,
    Attempt.Status.RETURNED: Kind.RETURNED,
    Attempt.Status.HANDED_IN: Kind.REOPENED,
}

__all__ = ["Stale", "accept", "comment", "count", "override", "reopen", "return_for_another_go", "uncount"]


def comment(
    *,
    attempt: Attempt,
    by: User,
    text: str,
    token: uuid.UUID,
    bar: int | None = None,
    seconds: float | None = None,
    note: str = "",
) -> Comment:
    """Add a remark; the same form twice adds once."""
    row, new = Comment.objects.get_or_create(
        attempt=attempt, token=token, defaults={"by": by, "text": text, "bar": bar, "seconds": seconds, "note": note}
    )
    if new:
        _tell_more(attempt, "A new comment on")
    return row


@transaction.atomic
def override(*, attempt_id: int, by: User, version: int, question: str, points: float, reason: str) -> MarkOverride:
    """Set another mark beside the computed one and count the sheet again. Raises `Stale`."""
    attempt = _locked(attempt_id, version)
    (row,) = give_marks([Given(attempt, question, points, reason)], by=by, why=f"Mark changed by {by.name}: {reason}")
    return row


@transaction.atomic
def accept(*, attempt_id: int, by: User, version: int) -> Attempt:
    """Reviewed and accepted. A hand-in becomes evidence now. Raises `Stale`."""
    attempt = _locked(attempt_id, version)
    if attempt.status == Attempt.Status.RETURNED:
        raise Stale
    first = attempt.status != Attempt.Status.REVIEWED
    _set(attempt, Attempt.Status.REVIEWED, by)
    if first and attempt.step.about.how == HAND_IN:
        add_evidence(
            step=attempt.step,
            player_id=attempt.player_id,
            attempt=attempt,
            by=by,
            what=f"{attempt.step.name}: heard and accepted",
        )
    if first:
        _tell(attempt, f"Reviewed: {attempt.step.name}, {attempt.step.assignment.title}")
    return attempt


@transaction.atomic
def return_for_another_go(*, attempt_id: int, by: User, version: int) -> Attempt:
    """Give it back: what it counted for is withdrawn and the player may start again. Raises `Stale`."""
    attempt = _locked(attempt_id, version)
    if attempt.status == Attempt.Status.RETURNED:
        return attempt
    _set(attempt, Attempt.Status.RETURNED, by)
    withdraw(why=f"Given back for another go by {by.name}", by=by, attempt=attempt)
    _tell(attempt, f"{attempt.step.name} is there for another go: {attempt.step.assignment.title}")
    return attempt


@transaction.atomic
def reopen(*, attempt_id: int, by: User, version: int) -> Attempt:
    """Undo `accept` or `return_for_another_go`: back into the queue. Raises `Stale`."""
    attempt = _locked(attempt_id, version)
    was = attempt.status
    _set(attempt, Attempt.Status.HANDED_IN, None)
    if was == Attempt.Status.REVIEWED and attempt.step.about.how == HAND_IN:
        withdraw(why=f"Review taken back by {by.name}", by=by, attempt=attempt)
    if was == Attempt.Status.RETURNED and attempt.step.about.how == QUIZ and not attempt.after_answers:
        quiz_evidence(attempt, by).save()
    return attempt


@transaction.atomic
def count(*, attempt_id: int, by: User, version: int) -> Attempt:
    """Let a go count that came after the answers, in the instructor's name. Twice counts once. Raises `Stale`."""
    attempt = _locked(attempt_id, version)
    if attempt.status == Attempt.Status.RETURNED:
        raise Stale
    if attempt.after_answers and not standing_rows(attempt=attempt).exists():
        quiz_evidence(attempt, by).save()
        attempt.version += 1
        attempt.save(update_fields=["version"])
    return attempt


@transaction.atomic
def uncount(*, attempt_id: int, by: User, version: int) -> Attempt:
    """Undo `count`. Raises `Stale`."""
    attempt = _locked(attempt_id, version)
    if attempt.after_answers and withdraw(why=f"Taken out of the count by {by.name}", by=by, attempt=attempt):
        attempt.version += 1
        attempt.save(update_fields=["version"])
    return attempt


def _locked(attempt_id: int, version: int) -> Attempt:
    attempt = (
        Attempt.objects.select_for_update(of=("self",)).select_related("step__assignment", "player").get(pk=attempt_id)
    )
    if attempt.version != version or attempt.is_open:
        raise Stale
    return attempt


def _set(attempt: Attempt, status: str, by: User | None) -> None:
    attempt.status, attempt.reviewed_by = status, by
    attempt.reviewed_at = timezone.now() if by else None
    attempt.version += 1
    attempt.save(update_fields=["status", "reviewed_by", "reviewed_at", "version"])
    happened(HAPPENINGS[Attempt.Status(status)], **ids_of(attempt))


def _tell_more(attempt: Attempt, what: str) -> None:
    """What comes after the player was told of the review; before it, the review tells of everything at once."""
    if attempt.status in (Attempt.Status.REVIEWED, Attempt.Status.RETURNED):
        notify_once(
            attempt.player,
            "reviewed",
            f"{what} {attempt.step.name}: {attempt.step.assignment.title}",
            reverse("work:attempt", args=[attempt.pk]),
        )


def _tell(attempt: Attempt, text: str) -> None:
    notify(attempt.player, "reviewed", text, reverse("work:attempt", args=[attempt.pk]))
