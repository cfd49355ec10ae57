"""Keys: ours, with which we sign what goes to platforms, and those of a platform, read from its address."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction
from django.utils import timezone

from api.campus import jose, outward
from api.campus.sealed import CannotOpen, seal, unseal
from api.models import Platform, SigningKey
from studio.models import Programme

PAUSE = dt.timedelta(seconds=30)  # between two readings of a platform's set
MOST_KEYS = 50


def public_set() -> dict[str, Any]:
    """Our key set (RFC 7517), which platforms read."""
    _current()
    return {"keys": [row.public for row in SigningKey.objects.all()[:MOST_KEYS]]}


def signed(claims: dict[str, Any]) -> str:
    """A token of ours, signed with the newest key."""
    key, private = _current()
    return jose.sign(claims, private=private, kid=key.kid)


def _current() -> tuple[SigningKey, str]:
    """The newest key and its private half. One is made when there is none, or none that the site can open any more:
    platforms read the set by its address, so a new key needs nobody's help."""
    if found := _opened():
        return found
    with transaction.atomic():
        Programme.objects.select_for_update().order_by("pk").first()  # one key, not one for each process
        if found := _opened():
            return found
        made = jose.new_key()
        row = SigningKey.objects.create(kid=made.kid, sealed=seal(made.private), public=made.public)
    return row, made.private


def _opened() -> tuple[SigningKey, str] | None:
    row = SigningKey.objects.first()
    if row is None:
        return None
    try:
        return row, unseal(row.sealed)
    except CannotOpen:
        return None


def claims_of(token: str, platform: Platform) -> dict[str, Any]:
    """What a platform signed. Its set is read again when the token names a key that it did not have. Raises
    `jose.NotValid`, `outward.Unreachable`."""
    try:
        return jose.read(token, platform.keys)
    except jose.UnknownKey:
        if platform.keys_read and timezone.now() - platform.keys_read < PAUSE:
            raise
    read_keys(platform)
    return jose.read(token, platform.keys)


def read_keys(platform: Platform) -> None:
    """Fetch a platform's key set and keep it. Raises `outward.Unreachable`."""
    Platform.objects.filter(pk=platform.pk).update(keys_read=timezone.now())
    found = outward.call("GET", platform.keys_url, headers={"Accept": "application/json"})
    if not found.good:
        raise outward.Unreachable(f"The key set of the platform answers {found.status}.")
    platform.keys = _plain(found.json())
    Platform.objects.filter(pk=platform.pk).update(keys=platform.keys)


def _plain(data: Any) -> dict[str, Any]:
    """The RSA keys of a set and nothing else of it."""
    rows = data.get("keys") if isinstance(data, dict) else None
    if not isinstance(rows, list):
        raise outward.Unreachable("The address of the key set answers, but with no key set.")
    kept = []
    for row in rows[:MOST_KEYS]:
        if isinstance(row, dict) and row.get("kty") == "RSA":
            fields = {name: row.get(name) for name in ("kty", "kid", "n", "e", "use")}
            kept.append({name: value for name, value in fields.items() if isinstance(value, str) and value.isascii()})
    return {"keys": [row for row in kept if all("\x00" not in value for value in row.values())]}
