"""A new term from an old one: ensembles, chairs, leaders, plan and chosen assignments, all of it or nothing."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta

from django.db import transaction

from studio.happenings import Kind, happened
from studio.models import Ensemble, Membership, Term, User

from ..models import Assignment, PlannedTune
from ..selectors.as_before import CHOICES
from ..selectors.carry import Carried, carried, moved, steps_carried
from .assign import StepPlan, assign


@transaction.atomic
def carry_over(
    *,
    old: Term,
    name: str,
    starts: date,
    ends: date,
    ensembles: Collection[int],
    players: bool,
    plan: bool,
    assignments: Collection[int],
    weeks: int,
    by: User,
) -> Term:
    """Make a term and take over what is chosen of the old one, which stays as it was. Dates move by `weeks`. The players
    of carried assignments are told of nothing before their desks show them. Raises `assign.CannotAsk`."""
    term = Term.objects.create(name=name, starts=starts, ends=ends)
    for row in carried(old, weeks):
        if row.ensemble.pk in ensembles:
            new = Ensemble.objects.create(name=row.ensemble.name, term=term)
            _chairs(row, new, players=players)
            if plan:
                _plan(row, new, weeks, by)
            for assignment, _ in row.assignments:
                if assignment.pk in assignments:
                    _again(assignment, new, weeks, by)
    return term


def _chairs(row: Carried, new: Ensemble, *, players: bool) -> None:
    Membership.objects.bulk_create(
        Membership(user=chair.user, ensemble=new, role=chair.role, instrument=chair.instrument, doubles=chair.doubles)
        for chair in (*row.leaders, *(row.players if players else ()))
    )
    happened(Kind.ROSTER, ensemble=new.pk)


def _plan(row: Carried, new: Ensemble, weeks: int, by: User) -> None:
    PlannedTune.objects.bulk_create(
        PlannedTune(
            ensemble=new,
            tune=planned.tune,
            position=place,
            known_by=planned.known_by + timedelta(weeks=weeks) if planned.known_by else None,
            added_by=by,
        )
        for place, planned in enumerate(row.planned, 1)
    )


def _again(before: Assignment, new: Ensemble, weeks: int, by: User) -> Assignment:
    """The same asked of the new ensemble; its questions are made from the chart as it stands now."""
    return assign(
        by=by,
        ensemble=new,
        revision=before.revision,
        title=before.title,
        instructions=before.instructions,
        steps=[
            StepPlan(step.kind, step.title, moved(step.due, weeks), step.times, step.options)
            for step in steps_carried(before)
        ],
        tell=False,
        **{choice: getattr(before, choice) for choice in CHOICES},
    )
