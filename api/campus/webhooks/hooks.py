"""Addresses: made, given a new secret, switched on, ended; each by a director and written in the log."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils import timezone

from api.campus.sealed import CannotOpen, seal, unseal
from api.campus.webhooks.signing import new_secret
from api.models import Delivery, Hook
from studio.audit import record
from studio.models import AuditEntry, User

BOTH = dt.timedelta(hours=24)  # how long the secret before signs as well


@transaction.atomic
def make(hook: Hook, *, by: User) -> str:
    """Save a new address; returns its secret, which nobody can read again."""
    secret = new_secret()
    hook.sealed = seal(secret)
    hook.save()
    _tell(hook, "made", by)
    return secret


@transaction.atomic
def change(hook: Hook, *, by: User) -> None:
    hook.save()
    _tell(hook, "changed", by)


@transaction.atomic
def roll(hook: Hook, *, by: User) -> str:
    """A new secret, shown once. The one before signs as well for a day, so that nothing is missed meanwhile."""
    secret, hook.old_sealed, hook.old_until = new_secret(), hook.sealed, timezone.now() + BOTH
    hook.sealed = seal(secret)
    hook.save(update_fields=["sealed", "old_sealed", "old_until"])
    _tell(hook, "given a new secret", by)
    return secret


@transaction.atomic
def switch_on(hook: Hook, *, by: User) -> None:
    hook.off, hook.failing_since = None, None
    hook.save(update_fields=["off", "failing_since"])
    _tell(hook, "switched on", by)


@transaction.atomic
def end(hook: Hook, *, by: User) -> None:
    """Send nothing there any more; the record stays until it is old."""
    hook.ended = timezone.now()
    hook.save(update_fields=["ended"])
    hook.deliveries.filter(state=Delivery.State.WAITING).update(
        state=Delivery.State.FAILED, answer="The address was ended."
    )
    _tell(hook, "ended", by)


def secrets_of(hook: Hook, now: dt.datetime) -> list[str]:
    """The secrets that sign now, the newest first. Raises `CannotOpen` when the site cannot read the newest any more."""
    found = [unseal(hook.sealed)]
    if hook.old_sealed and hook.old_until and hook.old_until > now:
        try:
            found.append(unseal(hook.old_sealed))
        except CannotOpen:
            return found
    return found


def _tell(hook: Hook, what: str, by: User) -> None:
    record(AuditEntry.Kind.TOKEN, f"Webhook “{hook.name}” {what}", by=by)
