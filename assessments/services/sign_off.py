"""Signing off in person, for one player or a whole ensemble, and taking it back."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from studio.audit import record, record_each
from studio.happenings import Kind, happened, happened_each
from studio.models import AuditEntry, User
from studio.notices import notify_many

from ..models import Evidence, SignOff, Step
from .evidence import withdraw


class NotOneself(ValueError):
    """A signature stands for somebody else's ear: nobody signs themselves off, nor takes back what was signed for them."""


@transaction.atomic
def sign_off(*, step: Step, players: Sequence[User], by: User, evidence: str) -> list[SignOff]:
    """Sign off each player who has no standing sign-off for the tune in this ensemble. Twice signs once.

    Raises `NotOneself`, and then writes nothing, when `by` is among the players.
    """
    if any(player.pk == by.pk for player in players):
        raise NotOneself("Nobody signs themselves off: ask another instructor to hear you.")
    at = step.assignment
    Step.objects.select_for_update().get(pk=step.pk)  # two instructors on one page: one after the other
    signed = set(
        SignOff.objects.filter(
            tune=at.tune_id, ensemble=at.ensemble_id, taken_back__isnull=True, player__in=players
        ).values_list("player_id", flat=True)
    )
    rows = SignOff.objects.bulk_create(
        [
            SignOff(
                player=player, tune_id=at.tune_id, ensemble_id=at.ensemble_id, step=step, by=by, evidence=evidence[:400]
            )
            for player in players
            if player.pk not in signed
        ]
    )
    title = at.tune.title
    record_each(AuditEntry.Kind.SIGN_OFF, [(row.player_id, f"Signed off: “{title}”") for row in rows], by=by)
    now = timezone.now()
    Evidence.objects.bulk_create(
        [
            Evidence(
                player_id=row.player_id,
                tune_id=at.tune_id,
                ensemble_id=at.ensemble_id,
                kind="sign-off",
                what=row.evidence,
                by=by,
                on=now,
                step=step,
                sign_off=row,
            )
            for row in rows
        ]
    )
    happened_each(Kind.SIGNED_OFF, [_ids(row) for row in rows])
    notify_many([row.player for row in rows], "signed-off", f"Signed off: {at.tune.title}", reverse("work:my-tunes"))
    return rows


@transaction.atomic
def take_back(*, sign_off_id: int, by: User) -> None:
    """Take a sign-off back; the row stays, with who and when. Raises `NotOneself` for one's own."""
    row = SignOff.objects.select_for_update().get(pk=sign_off_id)
    if row.player_id == by.pk:
        raise NotOneself("Your own sign-off is taken back by another instructor.")
    if row.taken_back:
        return
    row.taken_back, row.taken_back_by = timezone.now(), by
    row.save(update_fields=["taken_back", "taken_back_by"])
    record(AuditEntry.Kind.SIGN_OFF, f"Sign-off taken back: “{row.tune.title}”", by=by, about=row.player_id)
    happened(Kind.SIGN_OFF_TAKEN_BACK, **_ids(row))
    withdraw(why=f"Sign-off taken back by {by.name}", by=by, sign_off=row)


def _ids(row: SignOff) -> dict[str, int]:
    return {"sign_off": row.pk, "tune": row.tune_id, "ensemble": row.ensemble_id, "player": row.player_id}
