"""Adding to the record of learning, and withdrawing from it by adding."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from studio.models import User

from ..models import Attempt, Evidence, SignOff, Step
from ..selectors.ledger import standing_rows


def add_evidence(
    *,
    step: Step,
    player_id: int,
    what: str,
    percent: int = 100,
    by: User | None = None,
    attempt: Attempt | None = None,
    sign_off: SignOff | None = None,
    on: datetime | None = None,
) -> Evidence:
    """Add one fact about one player and the tune of the step's assignment."""
    row = evidence_row(
        step=step, player_id=player_id, what=what, percent=percent, by=by, attempt=attempt, sign_off=sign_off, on=on
    )
    row.save()
    return row


def evidence_row(
    *,
    step: Step,
    player_id: int,
    what: str,
    percent: int = 100,
    by: User | None = None,
    attempt: Attempt | None = None,
    sign_off: SignOff | None = None,
    on: datetime | None = None,
) -> Evidence:
    """The fact, not saved yet."""
    return Evidence(
        player_id=player_id,
        tune_id=step.assignment.tune_id,
        ensemble_id=step.assignment.ensemble_id,
        kind=step.kind,
        percent=max(0, min(100, percent)),
        what=what[:400],
        by=by,
        on=on or timezone.now(),
        step=step,
        attempt=attempt,
        sign_off=sign_off,
    )


def withdraw(*, why: str, by: User, **filters: object) -> int:
    """Withdraw every standing fact that matches, by adding a row for each. Returns how many."""
    rows = list(standing_rows(**filters))
    now = timezone.now()
    Evidence.objects.bulk_create(
        [
            Evidence(
                player_id=row.player_id,
                tune_id=row.tune_id,
                ensemble_id=row.ensemble_id,
                kind=row.kind,
                percent=0,
                what=why[:400],
                by=by,
                on=now,
                step_id=row.step_id,
                attempt_id=row.attempt_id,
                sign_off_id=row.sign_off_id,
                withdraws=row,
            )
            for row in rows
        ]
    )
    return len(rows)
