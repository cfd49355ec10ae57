"""What an ensemble plays on a day: made, put in order, taken apart."""

from __future__ import annotations

from datetime import date

from django.db import transaction

from drills.lines.build import Recipe
from drills.models import Pack
from drills.services.packs import make_pack
from drills.wishes import Wish
from studio.models import Ensemble, User
from tunes.models import ChartRevision

from ..models import SetList, SetTune

MOST = 40  # tunes of one day
RECIPES = (Recipe("guide-tones", "3"), Recipe("scales", "nearest"))  # what stands beside the chart in its pack


class SetFull(ValueError):
    """A set list holds as many tunes as it may."""


def make_set_list(*, ensemble: Ensemble, on: date, where: str, by: User) -> SetList:
    return SetList.objects.create(ensemble=ensemble, on=on, where=where, made_by=by)


@transaction.atomic
def add_tune(*, set_list: SetList, revision: ChartRevision) -> SetTune:
    """Put a tune at the end. Raises `SetFull`."""
    SetList.objects.select_for_update().get(pk=set_list.pk)
    last = set_list.tunes.order_by("-position").first()
    if set_list.tunes.count() >= MOST:
        raise SetFull(f"A set list has room for {MOST} tunes. Take one out first.")
    return SetTune.objects.create(set_list=set_list, revision=revision, position=last.position + 1 if last else 1)


def change_tune(*, row: SetTune, key: str, tempo: int | None, note: str) -> None:
    """Key, tempo and remark of the day; empty ones are as on the chart."""
    row.key, row.tempo, row.note = key, tempo, note
    row.save(update_fields=["key", "tempo", "note"])


@transaction.atomic
def move_tune(*, row: SetTune, by: int) -> None:
    """One place up (-1) or down (1); at either end it stays."""
    SetList.objects.select_for_update().get(pk=row.set_list_id)
    rows = list(SetTune.objects.filter(set_list=row.set_list_id))
    at = next((place for place, other in enumerate(rows) if other.pk == row.pk), None)
    if at is None or not 0 <= at + by < len(rows):
        return
    rows.insert(at + by, rows.pop(at))
    for place, other in enumerate(rows, 1):
        other.position = place
    SetTune.objects.bulk_update(rows, ["position"])


def make_packs(*, set_list: SetList, by: User) -> list[Pack]:
    """A pack for every tune of the list: the chart, guide tones and scales for every chair. They are made in the
    background."""
    wishes = [Wish(recipe=recipe) for recipe in RECIPES]
    return [
        make_pack(ensemble=set_list.ensemble, revision=row.revision, wishes=wishes, with_chart=True, by=by, key=row.key)
        for row in set_list.tunes.select_related("revision__version__tune")
    ]
