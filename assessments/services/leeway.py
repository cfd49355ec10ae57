"""A later date, or an excuse, for one player."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from studio.models import User
from studio.notices import notify

from ..models import Assignment, Attempt, Leeway, Step


@transaction.atomic
def give(
    *, steps: Iterable[Step], player: User, due: datetime | None, excused: bool, reason: str, by: User
) -> list[Leeway]:
    """Give one player a later date for these steps, or excuse them; the newest word counts. The player is told, without
    the reason. What came in after the common date and before the new one is late no longer."""
    rows = Leeway.objects.bulk_create(
        [Leeway(step=step, player=player, due=due, excused=excused, reason=reason, by=by) for step in steps],
        update_conflicts=True,
        unique_fields=["step", "player"],
        update_fields=["due", "excused", "reason", "by", "changed"],
    )
    handed_in = Attempt.objects.filter(step__in=[row.step_id for row in rows], player=player, late=True)
    if excused:
        handed_in.update(late=False)
    elif due:
        handed_in.filter(handed_in__lte=due).update(late=False)
    if rows:
        assignment = rows[0].step.assignment
        what = rows[0].step.name if len(rows) == 1 else "what is still to do"
        words = f"you are excused from {what}" if excused else f"you have until {_day(due)} for {what}"
        notify(player, "leeway", f"{assignment.title}: {words}", reverse("work:assignment", args=[assignment.pk]))
    return rows


def take_back(*, assignment: Assignment, leeway_id: int) -> None:
    """The common date holds again for that player and step. What was handed in keeps its lateness."""
    Leeway.objects.filter(pk=leeway_id, step__assignment=assignment).delete()


def is_late(attempt: Attempt, now: datetime) -> bool:
    """Whether what comes in now is late for this player."""
    due = attempt.step.due
    if due is None or now <= due:
        return False
    own = Leeway.objects.filter(step=attempt.step_id, player=attempt.player_id).first()
    return own is None or not (own.excused or (own.due is not None and now <= own.due))


def _day(moment: datetime | None) -> str:
    return f"{timezone.localtime(moment):%a %-d %b}" if moment else ""
