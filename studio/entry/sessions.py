"""Where somebody is signed in, for how long, and the end of it.

The moments stand in the session itself, which every request reads anyway; the row of the list is written at the start and
then at most every ten minutes, so that reading a page costs no query and no write.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from importlib import import_module
from typing import Any

from django.conf import settings
from django.contrib.auth import HASH_SESSION_KEY
from django.contrib.sessions.models import Session
from django.db import transaction
from django.utils import timezone
from django.utils.crypto import constant_time_compare

from studio import access
from studio.audit import record
from studio.entry import devices, rules
from studio.models import AuditEntry, SignIn, User

MARK = "entry"  # in the session: {"began", "seen"}, seconds since 1970
SEEN_EVERY = 600  # seconds
SHOWN = 100


@dataclass(frozen=True)
class Shown:
    """One sign-in for the page."""

    row: SignIn
    device: str
    is_this: bool


def agent_of(request: Any) -> str:
    """What the browser says of itself, no longer than the row holds; without characters that no column takes."""
    return str(request.META.get("HTTP_USER_AGENT", ""))[:300].replace("\x00", "")


def begin(request: Any, user: User) -> None:
    """A sign-in starts, or goes on under a new key: write its row, and when it began."""
    session = request.session
    if not session.session_key:
        session.save()
    now = timezone.now()
    began = (session.get(MARK) or {}).get("began", now.timestamp())
    session[MARK] = {"began": began, "seen": now.timestamp()}
    row = SignIn(
        user=user,
        key=session.session_key,
        agent=agent_of(request),
        began=dt.datetime.fromtimestamp(began, tz=now.tzinfo),
        seen=now,
    )
    # Whoever signs in twice in one browser keeps the session, and its row.
    fields = ["user", "agent", "began", "seen"]
    SignIn.objects.bulk_create([row], update_conflicts=True, unique_fields=["key"], update_fields=fields)


def note(request: Any) -> None:
    """The person is here: say so in the list, now and then."""
    mark, now = request.session.get(MARK), timezone.now()
    if mark and now.timestamp() - mark["seen"] < SEEN_EVERY:
        return
    found = SignIn.objects.filter(key=request.session.session_key).update(seen=now, agent=agent_of(request))
    if not found:
        begin(request, request.user)
        return
    request.session[MARK] = {"began": (mark or {}).get("began", now.timestamp()), "seen": now.timestamp()}


def is_over(request: Any) -> bool:
    """Whether this sign-in has lasted as long as the programme lets the person's roles."""
    mark, kept = request.session.get(MARK), rules.read(request.programme.sign_in_rules)
    if not mark or not any(rule.hours for rule in kept.values()):
        return False
    longest = rules.longest(kept[role] for role in access.roles_held(request.user))
    return longest is not None and timezone.now().timestamp() - mark["began"] > longest.total_seconds()


def of(user: User, this: str | None) -> list[Shown]:
    """The sign-ins that still hold, the latest first; `this`: the key of the one that asks. Two queries."""
    rows = list(user.sign_ins.all()[:SHOWN])
    alive = Session.objects.filter(session_key__in=[row.key for row in rows], expire_date__gt=timezone.now())
    valid = user.get_session_auth_hash()
    holds = {
        session.session_key
        for session in alive
        if constant_time_compare(session.get_decoded().get(HASH_SESSION_KEY, ""), valid)
    }
    return [Shown(row, devices.said(row.agent), row.key == this) for row in rows if row.key in holds]


@transaction.atomic
def end(*, user: User, pk: int) -> str | None:
    """End one of a person's sign-ins; the key it had, None when there is none of that number."""
    row = user.sign_ins.select_for_update().filter(pk=pk).first()
    if row is None:
        return None
    _drop([row.key])
    record(AuditEntry.Kind.LOGIN, f"Signed out from afar: {devices.said(row.agent)}", by=user, about=user)
    return row.key


@transaction.atomic
def end_all(*, user: User, besides: str | None = None) -> int:
    """End a person's sign-ins, but for the one with the key `besides`; how many."""
    keys = list(SignIn.objects.filter(user=user).exclude(key=besides or "").values_list("key", flat=True))
    _drop(keys)
    return len(keys)


def _drop(keys: list[str]) -> None:
    store = import_module(settings.SESSION_ENGINE).SessionStore
    for key in keys:
        store(key).delete()
    SignIn.objects.filter(key__in=keys).delete()


def forget_ended() -> int:
    """Delete rows whose session is gone; how many. For the worker's round."""
    return SignIn.objects.exclude(key__in=Session.objects.values("session_key")).delete()[0]


def password_changed(request: Any, user: User) -> None:
    """A new password ends every other sign-in; this one, if there is one, goes on under its new key."""
    this = request.session.session_key if request is not None and request.user.pk == user.pk else None
    end_all(user=user, besides=this)
    if this and not SignIn.objects.filter(key=this).exists():
        begin(request, user)
