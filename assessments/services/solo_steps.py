"""Steps about a solo: which solo and which bars, and for a quiz on its notes what every note is, fixed at issue."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from studio.instruments import CONCERT
from tunes.models import Solo, SoloRevision
from tunes.solos import selectors

from ..kinds import KINDS, SOLO_NOTES
from ..models import Assignment, Step
from ..selectors.solo_notes import NoSuchPassage, notes_asked

__all__ = ["NoSuchPassage", "solo_options", "take_key"]


def solo_options(assignment: Assignment, kind: str, chosen: Mapping[str, Any]) -> dict[str, Any]:
    """What a step about a solo keeps: the solo, its kept notes, the bars (of the solo, from 1), and for a quiz every note.

    Raises `NoSuchPassage`.
    """
    if not chosen.get("solo"):
        if kind == SOLO_NOTES:
            raise NoSuchPassage(f"{KINDS[kind].name}: choose the solo whose notes are asked.")
        return {}
    solo = Solo.objects.filter(pk=chosen["solo"], revision__version__tune=assignment.tune_id).first()
    kept = selectors.newest(solo) if solo else None
    if solo is None or kept is None:
        raise NoSuchPassage(f"{KINDS[kind].name}: that solo is not of this tune, or none of it is kept yet.")
    form = selectors.form_of(solo, CONCERT)
    first = int(chosen.get("first") or 1)
    last = int(chosen.get("last") or len(form.bars))
    if not 1 <= first <= last <= len(form.bars):
        raise NoSuchPassage(
            f"{KINDS[kind].name}: the solo has bars 1 to {len(form.bars)}; bars {first} to {last} are not in it."
        )
    options: dict[str, Any] = {"solo": solo.pk, "kept": kept.pk, "first": first, "last": last}
    if kind == SOLO_NOTES:
        options |= {"part": chosen.get("part") or "", "notes": notes_asked(solo, kept, form, first, last)}
    return options


@transaction.atomic
def take_key(*, step: Step, kept: SoloRevision) -> bool:
    """A settled version becomes the key of a step that has none; False where it has one. Nothing that was marked changes."""
    row = Step.objects.select_for_update().get(pk=step.pk)
    if row.options.get("kept"):
        return False
    row.options = row.options | {"solo": kept.solo_id, "kept": kept.pk}
    row.save(update_fields=["options"])
    return True
