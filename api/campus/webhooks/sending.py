"""From what happened to a message that was taken: written with what it tells of, sent by the worker, tried again."""

from __future__ import annotations

import datetime as dt
import json
import time
from typing import Any

from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone

from api.campus import outward
from api.campus.sealed import CannotOpen
from api.campus.webhooks.hooks import secrets_of
from api.campus.webhooks.signing import headers
from api.models import Delivery, Hook
from studio.happenings import Happening
from studio.models import User
from studio.notices import notify_many

TEST = "test"
LEASE, FIRST, LONGEST = dt.timedelta(minutes=5), dt.timedelta(minutes=1), dt.timedelta(hours=6)
MOST_TRIES = 12  # the last about two days after the first
PATIENCE = dt.timedelta(days=3)  # of nothing but failures; then the address is switched off
KEPT = dt.timedelta(days=30)
AT_ONCE, SECONDS = 200, 30.0  # of one round: other parts of the worker wait for it
State = Delivery.State


def working() -> QuerySet[Hook]:
    return Hook.objects.filter(ended=None, off=None)


def queue(found: list[Happening]) -> None:
    """A message for every address that asked for what happened. One query, and one write when somebody asked."""
    rows = []
    for hook in working():
        rows += [
            Delivery(hook=hook, event=one.kind, body=body_of(one.kind, one.ids))
            for one in found
            if one.kind in hook.events
        ]
    Delivery.objects.bulk_create(rows)


def body_of(event: str, ids: Any) -> str:
    """The payload (Standard Webhooks 1.0, "Payload structure"): type, time and ids, nothing else. Who may know more asks the REST
    interface, which decides what they may see."""
    at = timezone.now().astimezone(dt.UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
    return json.dumps({"type": str(event), "timestamp": at, "data": dict(ids)}, separators=(",", ":"))


def send_waiting(now: dt.datetime) -> int:
    """Send what is due; returns how many were taken. Each message is leased, so two workers send nothing twice; an address
    that does not answer is left alone for the rest of the round, so that it holds nobody up."""
    due = Delivery.objects.filter(state=State.WAITING, next_try__lte=now, hook__ended=None, hook__off=None)
    begun, silent, taken = time.monotonic(), set(), 0
    for row in due.select_related("hook").order_by("id")[:AT_ONCE]:
        if row.hook_id in silent or time.monotonic() - begun > SECONDS:
            continue
        lease = Delivery.objects.filter(pk=row.pk, state=State.WAITING, next_try=row.next_try)
        if not lease.update(next_try=now + LEASE):
            continue
        if send(row, timezone.now()):
            taken += 1
        else:
            silent.add(row.hook_id)
    return taken


def send(row: Delivery, now: dt.datetime) -> bool:
    """One try of one message; what came of it is written down."""
    hook = row.hook
    try:
        known = secrets_of(hook, now)
        sent = headers(known, str(row.message), int(now.timestamp()), row.body)
        found = outward.call("POST", hook.url, body=row.body.encode(), headers=sent)
        status, text, good = found.status, found.text, found.good
    except outward.Unreachable as error:
        status, text, good = None, str(error), False
    except CannotOpen:
        status, text, good = None, "The site's secret key has changed: make a new secret for this address.", False
    row.tries += 1
    row.status, row.answer = status, text[:300]
    if good:
        row.state, row.sent = State.SENT, now
        Hook.objects.filter(pk=hook.pk).update(failing_since=None, reached=now)
    else:
        row.state = State.WAITING if row.tries < MOST_TRIES and row.event != TEST else State.FAILED
        row.next_try = now + min(FIRST * 3 ** min(row.tries - 1, 8), LONGEST)
        _failing(hook, now)
    row.save(update_fields=["tries", "status", "answer", "state", "sent", "next_try"])
    return good


def _failing(hook: Hook, now: dt.datetime) -> None:
    Hook.objects.filter(pk=hook.pk, failing_since=None).update(failing_since=now)
    too_long = hook.failing_since and now - hook.failing_since > PATIENCE
    if too_long and Hook.objects.filter(pk=hook.pk, off=None).update(off=now):
        text = f"The webhook “{hook.name}” was switched off: nothing was taken for {PATIENCE.days} days."
        directors = User.objects.filter(is_director=True, is_active=True)
        notify_many(directors, "house", text, reverse("api:hook", args=[hook.pk]))


def test(hook: Hook) -> Delivery:
    """A message of no meaning, sent at once."""
    row = Delivery.objects.create(hook=hook, event=TEST, body=body_of(TEST, {}), next_try=timezone.now() + LEASE)
    send(row, timezone.now())
    return row


def clear_old(now: dt.datetime) -> None:
    Delivery.objects.filter(made__lt=now - KEPT).delete()
