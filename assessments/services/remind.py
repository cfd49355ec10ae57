"""Reminding players of an assignment before its date, and taking that back while nobody has read it."""

from __future__ import annotations

from collections.abc import Collection
from datetime import timedelta

from django.utils import timezone

from studio.models import User
from studio.notices import notify_many, unread_notices

from ..models import Assignment, Step
from ..selectors.begun import REMINDER, assignment_url, next_due

UNDO_WITHIN = timedelta(minutes=10)


def remind(*, assignment: Assignment, steps: Collection[Step], players: Collection[User]) -> int:
    """Tell these players that the assignment waits for them; returns how many. Whoever has an unread reminder of it has
    it still, and is not told twice."""
    url = assignment_url(assignment)
    waiting = set(unread_notices(players, REMINDER, url).values_list("user", flat=True))
    told = [player for player in players if player.pk not in waiting]
    due = next_due(steps)
    when = f", due {timezone.localtime(due):%a %-d %b}" if due else ""
    notify_many(told, REMINDER, f"{assignment.ensemble.name} waits for you: {assignment.title}{when}", url)
    return len(told)


def unremind(*, assignment: Assignment, players: Collection[User]) -> int:
    """Take back reminders of the last minutes that nobody has read or been mailed; returns how many."""
    rows = unread_notices(players, REMINDER, assignment_url(assignment))
    return rows.filter(created__gte=timezone.now() - UNDO_WITHIN).delete()[0]
