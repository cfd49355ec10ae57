"""What counts as done, as expressions of the database: the desk asks them of steps, the queue of chairs.

Each takes the columns of the outer query by name and costs no query of its own.
"""
from __future__ import annotations

from typing import Any

from django.db.models import Count, Exists, OuterRef, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone

from tunes.models import Listening as LogEntry

from ..models import Attempt, Listening, SignOff

ASKED: dict[str, Any] = {"closed": None, "assignment__closed": None}  # a filter on steps: not taken back, not closed


def running(prefix: str) -> dict[str, Any]:
    """A filter on the ensemble that `prefix` leads to: its term has not ended."""
    return {f"{prefix}term__ends__gte": timezone.localdate()}


def latest_status(step: str, player: Any) -> Subquery:
    """The status of the player's latest attempt, NULL before the first."""
    return Subquery(Attempt.objects.filter(step=OuterRef(step), player=player).order_by("-number").values("status")[:1])


def times_heard(tune: str, player: Any) -> Any:
    """How often the player has logged a recording of the tune, of the repertoire or another one."""
    logged = (LogEntry.objects.filter(recording__tune=OuterRef(tune), player=player).order_by()
              .values("recording__tune").annotate(n=Count("id")).values("n"))
    others = (Listening.objects.filter(step__assignment__tune=OuterRef(tune), player=player, recording=None).order_by()
              .values("step__assignment__tune").annotate(n=Count("id")).values("n"))
    return Coalesce(Subquery(logged), 0) + Coalesce(Subquery(others), 0)


def signed_off(tune: str, ensemble: str, player: Any) -> Exists:
    """Whether a sign-off of the player for the tune stands in the ensemble."""
    return Exists(SignOff.objects.filter(player=player, taken_back__isnull=True, tune=OuterRef(tune),
                                         ensemble=OuterRef(ensemble)))
