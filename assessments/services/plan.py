"""Writing the plan of an ensemble: tunes in their order, each with the day it should be known by."""

from __future__ import annotations

from datetime import date

from django.db import transaction

from studio.models import Ensemble, User
from tunes.models import Tune

from ..models import PlannedTune

MOST = 60  # tunes in one plan: more than any term holds


class PlanFull(ValueError):
    """The plan holds as many tunes as a plan may."""


def _rows(ensemble: Ensemble | int) -> list[PlannedTune]:
    """The plan in its order, locked; the ensemble first, so that two who write wait for each other."""
    pk = ensemble if isinstance(ensemble, int) else ensemble.pk
    Ensemble.objects.select_for_update().get(pk=pk)
    return list(PlannedTune.objects.select_for_update().filter(ensemble=pk).order_by("position", "pk"))


@transaction.atomic
def plan_tune(*, ensemble: Ensemble, tune: Tune, known_by: date | None, by: User) -> PlannedTune:
    """Put a tune at the end of the plan; one that is there already only gets its new day. Raises `PlanFull`."""
    rows = _rows(ensemble)
    found = next((row for row in rows if row.tune_id == tune.pk), None)
    if found is not None:
        return set_day(row=found, known_by=known_by)
    if len(rows) >= MOST:
        raise PlanFull(f"A plan has room for {MOST} tunes. Take one out first.")
    place = rows[-1].position + 1 if rows else 1
    return PlannedTune.objects.create(ensemble=ensemble, tune=tune, position=place, known_by=known_by, added_by=by)


def set_day(*, row: PlannedTune, known_by: date | None) -> PlannedTune:
    """The day by which the ensemble should know the tune; None for no day."""
    row.known_by = known_by
    row.save(update_fields=["known_by"])
    return row


@transaction.atomic
def move(*, row: PlannedTune, by: int) -> None:
    """One place up (-1) or down (1); at either end it stays."""
    rows = _rows(row.ensemble_id)
    at = next((index for index, other in enumerate(rows) if other.pk == row.pk), None)
    if at is not None and 0 <= at + by < len(rows):
        _put(rows, at, at + by)


@transaction.atomic
def move_to(*, row: PlannedTune, place: int) -> None:
    """To this place of the plan, counted from 1; past its end means last."""
    rows = _rows(row.ensemble_id)
    at = next((index for index, other in enumerate(rows) if other.pk == row.pk), None)
    if at is not None:
        _put(rows, at, min(max(place, 1), len(rows)) - 1)


def _put(rows: list[PlannedTune], at: int, to: int) -> None:
    rows.insert(to, rows.pop(at))
    for place, other in enumerate(rows, 1):
        other.position = place
    PlannedTune.objects.bulk_update(rows, ["position"])


def take_out(*, row: PlannedTune) -> None:
    """Take the tune out of the plan; what players did on it stays in the ledger."""
    row.delete()
