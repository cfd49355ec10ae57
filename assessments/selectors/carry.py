"""What a term holds that the next one may take over, and how it would look there. Nothing here writes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TypeVar

from django.utils import timezone

from studio.models import Ensemble, Membership, Term

from ..kinds import SOLO_KINDS
from ..models import Assignment, PlannedTune, Step
from .ledger import learned_pairs, requirements

Row = TypeVar("Row", Membership, PlannedTune, Assignment)


@dataclass(frozen=True)
class Carried:
    """One ensemble of the old term with what of it goes on: chairs without those of substitutes and closed accounts,
    planned tunes that not every player knows, assignments that may be chosen with the dates they would get."""

    ensemble: Ensemble
    leaders: tuple[Membership, ...]
    players: tuple[Membership, ...]
    planned: tuple[PlannedTune, ...]
    assignments: tuple[tuple[Assignment, tuple[tuple[Step, datetime | None], ...]], ...]


def weeks_between(first: date, second: date) -> int:
    """Whole weeks from one day to another, to the nearest: days of the week stay."""
    return round((second - first).days / 7)


def moved(moment: datetime | None, weeks: int) -> datetime | None:
    """The same hour of the same day of the week, also past a change to or from summer time."""
    if moment is None:
        return None
    there = timezone.make_naive(moment) + timedelta(weeks=weeks)
    return timezone.make_aware(there)


def steps_carried(assignment: Assignment) -> list[Step]:
    """Steps that are asked again: those of a solo belong to what was written then."""
    return [step for step in assignment.steps.all() if step.kind not in SOLO_KINDS and not step.closed]


def carried(term: Term, weeks: int) -> list[Carried]:
    """Everything that a term could hand on, ensemble by ensemble: seven queries."""
    ensembles = list(term.ensembles.select_related("term").order_by("name"))
    ids = [ensemble.pk for ensemble in ensembles]
    chairs = list(
        Membership.objects.filter(ensemble__in=ids, ends=None, user__is_active=True)
        .select_related("user")
        .only("ensemble", "role", "instrument", "doubles", "user__name")
        .order_by("user__name", "pk")
    )
    planned = list(PlannedTune.objects.filter(ensemble__in=ids).select_related("tune"))
    made = list(
        Assignment.objects.filter(ensemble__in=ids, closed=None)
        .select_related("tune", "revision__version")
        .defer("revision__text", "revision__analysis")
        .prefetch_related("steps")
        .order_by("created", "pk")
    )
    known = _known(
        [c.user_id for c in chairs if c.role == Membership.Role.PLAYER], sorted({row.tune_id for row in planned})
    )
    by_chair, by_plan, by_work = _grouped(chairs), _grouped(planned), _grouped(made)
    return [_carried(e, by_chair[e.pk], by_plan[e.pk], by_work[e.pk], known, weeks) for e in ensembles]


def _grouped(rows: Iterable[Row]) -> dict[int, list[Row]]:
    """Ensemble → its rows, in their order."""
    found: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        found[row.ensemble_id].append(row)
    return found


def _known(players: Sequence[int], tunes: Sequence[int]) -> dict[int, set[int]]:
    """Tune → players who have learned it, for these tunes."""
    found: dict[int, set[int]] = {}
    for row in learned_pairs(players, requirements(), tune__in=tunes):
        found.setdefault(row["tune"], set()).add(row["player"])
    return found


def _carried(
    ensemble: Ensemble,
    chairs: Collection[Membership],
    planned: Collection[PlannedTune],
    made: Collection[Assignment],
    known: dict[int, set[int]],
    weeks: int,
) -> Carried:
    players = tuple(chair for chair in chairs if chair.role == Membership.Role.PLAYER)
    ids = {chair.user_id for chair in players}
    return Carried(
        ensemble,
        tuple(chair for chair in chairs if chair.role == Membership.Role.INSTRUCTOR),
        players,
        tuple(row for row in planned if not (ids and ids <= known.get(row.tune_id, set()))),
        tuple(
            (a, tuple((step, moved(step.due, weeks)) for step in steps_carried(a))) for a in made if steps_carried(a)
        ),
    )
