"""Which changes by ear a player has still to hand in: while one is open, the charts of its tune stay closed."""
from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils import timezone

from ..access import steps_played
from ..kinds import BY_EAR
from ..models import Attempt, Step

TELLS_CHORDS_NOT = ("form",)  # marked kinds that neither ask nor tell a chord


def with_latest(steps: QuerySet[Step], user: Any) -> QuerySet[Step]:
    """Steps with `latest`: the status of the player's latest attempt, None before the first."""
    latest = Attempt.objects.filter(step=OuterRef("pk"), player=user).order_by("-number").values("status")[:1]
    return steps.annotate(latest=Subquery(latest))


def is_open_by_ear(step: Any) -> bool:
    """Whether a step (read `with_latest`) asks for changes by ear that are still to hand in.

    That is: never begun, being written, or returned for another go. A further go that the player begins closes the
    charts again until it is handed in.
    """
    return step.kind == BY_EAR and step.latest in (None, Attempt.Status.OPEN, Attempt.Status.RETURNED)


def open_by_ear(user: Any, tunes: Iterable[int]) -> set[int]:
    """Of these tune ids, those with changes by ear to hand in, in a term that has not ended: one query."""
    steps = with_latest(steps_played(user), user).filter(
        kind=BY_EAR, assignment__tune__in=set(tunes), assignment__ensemble__term__ends__gte=timezone.localdate())
    return {step.assignment.tune_id for step in steps if is_open_by_ear(step)}


def shows_chords(kind: str, *, out: bool) -> bool:
    """Whether the page of an attempt shows chords of the chart: quizzes do, changes by ear once the answers are out."""
    return out if kind == BY_EAR else kind not in TELLS_CHORDS_NOT
