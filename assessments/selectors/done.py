"""What counts as done, as expressions of the database: the desk asks them of steps, the queue of chairs.

Each takes the columns of the outer query by name and costs no query of its own.
"""

from __future__ import annotations

from typing import Any

from django.db.models import BigIntegerField, Count, Exists, ExpressionWrapper, F, OuterRef, Subquery
from django.db.models.expressions import RawSQL
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
    logged = (
        LogEntry.objects.filter(recording__tune=OuterRef(tune), player=player)
        .order_by()
        .values("recording__tune")
        .annotate(n=Count("id"))
        .values("n")
    )
    others = (
        Listening.objects.filter(step__assignment__tune=OuterRef(tune), player=player, recording=None)
        .order_by()
        .values("step__assignment__tune")
        .annotate(n=Count("id"))
        .values("n")
    )
    return Coalesce(Subquery(logged), 0) + Coalesce(Subquery(others), 0)


PAIR = 2**31  # more than any id of a person: a step and a player as one number


def pair(step: str, player: str) -> Any:
    """A step and a player, named by their columns, as one number: lists of what is done are compared by it."""
    return ExpressionWrapper(F(step) * PAIR + F(player), output_field=BigIntegerField())


def heard_enough() -> RawSQL:
    """Pairs of listening steps and the players who have logged the tune as often as the step asks."""
    return RawSQL(f"{_HEARD} HAVING COUNT(*) >= s.times", [])


def heard_at_all() -> RawSQL:
    """Pairs of listening steps and the players who have logged the tune."""
    return RawSQL(_HEARD, [])


# Written out because both logs are counted together, which a query of the ORM cannot say.
_HEARD = f"""
    SELECT s.id * {PAIR} + h.player_id FROM assessments_step s
    JOIN assessments_assignment a ON a.id = s.assignment_id
    JOIN (
        SELECT r.tune_id, l.player_id FROM tunes_listening l JOIN tunes_recording r ON r.id = l.recording_id
        UNION ALL
        SELECT aa.tune_id, o.player_id FROM assessments_listening o JOIN assessments_step ss ON ss.id = o.step_id
        JOIN assessments_assignment aa ON aa.id = ss.assignment_id WHERE o.recording_id IS NULL
    ) h ON h.tune_id = a.tune_id
    WHERE s.kind = 'listening' GROUP BY s.id, s.times, h.player_id"""


def signed_off(tune: str, ensemble: str, player: Any) -> Exists:
    """Whether a sign-off of the player for the tune stands in the ensemble."""
    return Exists(
        SignOff.objects.filter(player=player, taken_back__isnull=True, tune=OuterRef(tune), ensemble=OuterRef(ensemble))
    )
