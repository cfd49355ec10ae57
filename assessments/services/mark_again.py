"""Marking again: the key of issued questions brought up to the overrules of the chart, once an instructor has seen whose mark
would change. The old keys and the old marks stay beside the new ones."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from studio.models import User
from tunes.selectors import standing_overrules

from ..models import Attempt, KeyChange, MarkOverride, Quiz, Step
from ..selectors.old_keys import NewMark, remarking
from .assign import Stale
from .given import Given, give_marks


@transaction.atomic
def mark_again(*, step: Step, by: User, stamp: str, only_up: bool = False) -> int:
    """Give the questions the key as it stands now and the marks that follow from it; returns how many marks changed.

    `stamp` is that of the `Remarking` which the instructor read: raises `Stale` when something has changed since.
    `only_up`: marks that would fall stay as they are; what is handed in later is marked with the new key all the same.
    """
    Quiz.objects.select_for_update().get(step=step)
    locked = {
        a.pk: a
        for a in Attempt.objects.select_for_update(of=("self",))
        .filter(step=step)
        .select_related("step__assignment")
        .order_by("pk")
    }
    found = remarking(step)
    if found.stamp != stamp:
        raise Stale
    rows = [
        _given(row, locked) for row in (*found.marks, *found.retold) if row.up or not only_up or row in found.retold
    ]
    changed = [row for row in found.marks if row.up or not only_up]
    revision = step.assignment.revision_id
    KeyChange.objects.create(
        quiz=Quiz.objects.get(step=step), by=by, marks=len(changed), before={q["id"]: q["was"] for q in found.changed}
    )
    Quiz.objects.filter(step=step).update(
        questions=list(found.questions), overrules=standing_overrules([revision])[revision]
    )
    if rows:
        give_marks(rows, by=by, why=f"Marked again by {by.name} with the key as it stands now")
    return len(changed)


def _given(row: NewMark, locked: dict[int, Attempt]) -> Given:
    said = f"Marked again on {timezone.localdate():%-d %b %Y}: this place is heard otherwise now."
    return Given(
        locked[row.attempt.pk], row.question["id"], row.after, said, MarkOverride.Origin.KEY, row.rule, row.feedback
    )
