"""What counts as done, as expressions of the database: the desk asks them of steps, the queue of chairs.

Each takes the columns of the outer query by name and costs no query of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import BigIntegerField, Count, Exists, ExpressionWrapper, F, OuterRef, Q, QuerySet, Subquery
from django.db.models.expressions import RawSQL
from django.db.models.functions import Coalesce
from django.utils import timezone

from tunes.models import Listening as LogEntry

from ..models import Answer, Attempt, Listening, SignOff, Step

ASKED: dict[str, Any] = {"closed": None, "assignment__closed": None}  # a filter on steps: not taken back, not closed


def running(prefix: str) -> dict[str, Any]:
    """A filter on the ensemble that `prefix` leads to: its term has not ended."""
    return {f"{prefix}term__ends__gte": timezone.localdate()}


def is_begun() -> Q:
    """A filter on attempts: the first go counts as begun with its first answer, not when its page is opened."""
    answered = Answer.objects.filter(attempt=OuterRef("pk")).exclude(text="")
    return ~Q(status=Attempt.Status.OPEN, number=1) | Q(Exists(answered))


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


@dataclass(frozen=True)
class Among:
    """The steps of which it is asked whether they are done: those of one ensemble, of one assignment, or of the terms that
    have not ended, there on some `tunes` alone if they are given. What is done is looked up for these alone, so that
    twenty years of history cost nothing."""

    ensemble: int | None = None
    assignment: int | None = None
    tunes: tuple[int, ...] = ()

    def steps(self, **more: Any) -> QuerySet[Step]:
        """The steps."""
        if self.assignment:
            more |= {"assignment": self.assignment}
        elif self.ensemble:
            more |= {"assignment__ensemble": self.ensemble}
        else:
            more |= running("assignment__ensemble__")
            more |= {"assignment__tune__in": self.tunes} if self.tunes else {}
        return Step.objects.order_by().filter(**more)

    def _sql(self) -> tuple[str, list[int | str]]:
        if self.assignment:
            return "s.assignment_id = %s", [self.assignment]
        if self.ensemble:
            return "a.ensemble_id = %s", [self.ensemble]
        where = (
            f"t.ends >= %s AND a.tune_id IN ({', '.join(['%s'] * len(self.tunes))})" if self.tunes else "t.ends >= %s"
        )
        return where, [timezone.localdate().isoformat(), *self.tunes]

    def heard_enough(self) -> RawSQL:
        """Pairs of listening steps and the players who have logged the tune as often as the step asks."""
        return self._heard("HAVING COUNT(*) >= x.times")

    def heard_at_all(self) -> RawSQL:
        """Pairs of listening steps and the players who have logged the tune."""
        return self._heard("")

    def _heard(self, having: str) -> RawSQL:
        where, values = self._sql()
        return RawSQL(f"{_HEARD.format(where=where)} {having}", [*values, *values])


# Written out because both logs are counted together, which a query of the ORM cannot say. From the steps to the chairs of
# their ensemble to what these players have logged: each is found by an index.
_ASKED_OF = """
    FROM studio_term t JOIN studio_ensemble e ON e.term_id = t.id
    JOIN assessments_assignment a ON a.ensemble_id = e.id
    JOIN assessments_step s ON s.assignment_id = a.id AND s.kind = 'listening'
    JOIN studio_membership m ON m.ensemble_id = e.id"""
_HEARD = f"""
    SELECT x.id * {PAIR} + x.player_id FROM (
        SELECT s.id, s.times, l.player_id {_ASKED_OF}
        JOIN tunes_recording r ON r.tune_id = a.tune_id
        JOIN tunes_listening l ON l.player_id = m.user_id AND l.recording_id = r.id
        WHERE {{where}}
        UNION ALL
        SELECT s.id, s.times, o.player_id {_ASKED_OF}
        JOIN assessments_listening o ON o.player_id = m.user_id AND o.recording_id IS NULL
        JOIN assessments_step ss ON ss.id = o.step_id
        JOIN assessments_assignment aa ON aa.id = ss.assignment_id AND aa.tune_id = a.tune_id
        WHERE {{where}}
    ) x GROUP BY x.id, x.times, x.player_id"""


def signed_off(tune: str, ensemble: str, player: Any) -> Exists:
    """Whether a sign-off of the player for the tune stands in the ensemble."""
    return Exists(
        SignOff.objects.filter(player=player, taken_back__isnull=True, tune=OuterRef(tune), ensemble=OuterRef(ensemble))
    )
