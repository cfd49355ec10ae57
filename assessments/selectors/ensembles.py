"""Everything that an ensemble's own page shows. A fixed number of queries."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, Q
from django.utils import timezone

from studio.models import Ensemble, Membership

from ..access import attempts_led
from ..kinds import HAND_IN, KINDS
from ..models import Assignment, Attempt
from .begun import begun_counts, next_due
from .review import missing

MOST = 12  # assignments named on the page
HEARD = [kind.id for kind in KINDS.values() if kind.how == HAND_IN]


@dataclass(frozen=True)
class Asked:
    """One assignment of the ensemble: how many have not begun, what waits for review, what is due next."""

    assignment: Assignment
    not_begun: int
    to_review: int
    due: datetime | None


def ensemble_page(user: Any, ensemble: Ensemble) -> dict[str, Any]:
    """The context of the page."""
    chairs = list(ensemble.memberships.select_related("user").order_by("user__name", "pk"))
    players = [chair for chair in chairs if chair.role == Membership.Role.PLAYER]
    asked = list(
        Assignment.objects.filter(ensemble=ensemble, closed=None)
        .select_related("tune")
        .prefetch_related("steps")
        .order_by("-created", "-pk")[: MOST + 1]
    )
    theirs = attempts_led(user).filter(step__assignment__ensemble=ensemble)
    to_review = Q(status=Attempt.Status.HANDED_IN, superseded=False)
    review = theirs.order_by().aggregate(
        sheets=Count("pk", filter=to_review, distinct=True),
        takes=Count("pk", filter=to_review & Q(step__kind__in=HEARD), distinct=True),
        questions=Count("objections", filter=Q(objections__answered=None), distinct=True),
    )
    today = timezone.localdate()
    return {
        "players": players,
        "leaders": [chair for chair in chairs if chair.role == Membership.Role.INSTRUCTOR],
        "now": [chair for chair in chairs if chair.begins and chair.ends and chair.begins <= today <= chair.ends],
        "asked": _asked(user, asked[:MOST], {chair.user_id for chair in players}),
        "more": len(asked) > MOST,
        "review": review,
        "missing": missing(user, ensemble=ensemble.pk).order_by().count(),
    }


def _asked(user: Any, assignments: list[Assignment], players: set[int]) -> list[Asked]:
    steps = []
    for assignment in assignments:
        for step in assignment.steps.all():
            step.assignment = assignment
            steps.append(step)
    found = begun_counts(assignments, steps)
    return [
        Asked(
            a,
            len(players - found[a.pk][0]),
            sum(count for player, count in found[a.pk][1].items() if player != user.pk),
            next_due(s for s in steps if s.assignment_id == a.pk),
        )
        for a in assignments
    ]
