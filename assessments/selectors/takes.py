"""What a take was handed in for, and the sign-off that followed it."""

from __future__ import annotations

from typing import Any

from django.db.models import OuterRef, Subquery
from django.urls import reverse
from django.utils import timezone

from drills.models import Take
from drills.takes.belongs import Place

from ..kinds import HAND_IN
from ..models import SignOff, Submission
from .desk import undone_steps

MOST = 3


def places(user: Any, take: Take) -> list[Place]:
    """For its player the step, for who leads the sheet of review; the standing sign-off that came after it. One query.

    While nobody else hears it: the steps of its tune that wait for a recording.
    """
    mine = take.player_id == user.pk
    tune = take.revision.version.tune_id if take.revision_id else None  # type: ignore[union-attr]
    if take.ensemble_id is None:
        return _to_hand_in(user, take, tune) if mine and tune and not take.gone else []
    signed = SignOff.objects.filter(
        player=OuterRef("attempt__player"),
        ensemble=take.ensemble_id,
        tune=tune,
        taken_back=None,
        created__gte=take.made,
    )
    rows = Submission.objects.filter(take=take, attempt__step__assignment__ensemble=take.ensemble_id).annotate(
        signed_by=Subquery(signed.values("by__name")[:1]),
        signed_on=Subquery(signed.values("created")[:1]),
        evidence=Subquery(signed.values("evidence")[:1]),
    )
    found = []
    last = None
    for last in rows.select_related("attempt__step__assignment").order_by("-pk")[:MOST]:
        step = last.attempt.step
        url = reverse("work:step", args=[step.pk]) if mine else reverse("work:sheet", args=[last.attempt_id])
        found.append(Place(f"Handed in for {step.name}, {step.assignment.title}", url))
    if last is not None and last.signed_on:
        url = "" if mine else reverse("work:evidence", args=[take.player_id, tune])
        day = timezone.localdate(last.signed_on)
        found.append(Place(f"Signed off after it by {last.signed_by}, {day:%-d %B}: {last.evidence}", url))
    return found


def _to_hand_in(user: Any, take: Take, tune: int) -> list[Place]:
    """Where a take may go that was not handed in. One query."""
    steps = undone_steps(user).filter(kind=HAND_IN, assignment__tune=tune).select_related("assignment")[:MOST]
    return [
        Place(
            f"Hand it in for {step.name}, {step.assignment.title}",
            f"{reverse('work:step', args=[step.pk])}?take={take.pk}#hand-in",
        )
        for step in steps
    ]
