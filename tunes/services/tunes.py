"""What changes a tune, its recordings and its chart versions."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from studio.models import User
from tunes.models import ChartVersion, Idiom, Recording, Tune


def create_tune(*, by: User | None, title: str, **fields: Any) -> Tune:
    """A new tune. `fields` are those of `Tune`; the caller has validated them."""
    return Tune.objects.create(created_by=by, title=title, **fields)


@transaction.atomic
def delete_tune(*, tune: Tune) -> None:
    """Delete a tune with its charts and recordings. Raises ProtectedError when work was assigned on it.

    Charts first: one that names a recording of the tune as its source would otherwise protect it.
    """
    tune.versions.all().delete()
    tune.delete()


@transaction.atomic
def save_recording(*, recording: Recording, by: User) -> Recording:
    """Write a recording; when it is the reference, no other recording of the tune stays one."""
    Tune.objects.select_for_update().get(pk=recording.tune_id)
    if recording.is_reference:
        others = Recording.objects.filter(tune=recording.tune_id, is_reference=True).exclude(pk=recording.pk)
        others.update(is_reference=False)
    if recording.pk is None:
        recording.created_by = by
    recording.save()
    return recording


def create_version(*, tune: Tune, name: str, by: User | None, is_agreed: bool = False) -> ChartVersion:
    """A new, still empty chart version; the first one of a tune is its agreed chart."""
    first = not ChartVersion.objects.filter(tune=tune).exists()
    version = ChartVersion.objects.create(tune=tune, name=name, created_by=by, is_agreed=first)
    if is_agreed and not first:
        agree_on(version=version)
    return version


def rename_version(*, version: ChartVersion, name: str) -> None:
    version.name = name
    version.save(update_fields=["name"])


@transaction.atomic
def agree_on(*, version: ChartVersion) -> None:
    """Make this version the one that the class agrees on."""
    Tune.objects.select_for_update().get(pk=version.tune_id)
    ChartVersion.objects.filter(tune=version.tune_id, is_agreed=True).exclude(pk=version.pk).update(is_agreed=False)
    ChartVersion.objects.filter(pk=version.pk).update(is_agreed=True)
    version.is_agreed = True


def save_idiom(*, idiom: Idiom, by: User) -> Idiom:
    """Write an idiom; the person who named it first stays its maker."""
    if idiom.pk is None:
        idiom.made_by = by
    idiom.save()
    return idiom
