"""Making, revoking and recognising tokens."""

from __future__ import annotations

import hashlib
import secrets
from datetime import timedelta
from typing import Any

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from api.models import Token
from api.scopes import SCOPE_IDS, SERVICE_SCOPES
from studio.audit import record
from studio.models import AuditEntry, User

PREFIX = "topform_"
MAX_DAYS = 366
_USED_STEP = timedelta(minutes=5)  # last use is written at most this often, so that reads stay reads


def make_token(
    *, owner: User | None, name: str, scopes: list[str], days: int, by: User | None = None
) -> tuple[Token, str]:
    """A new token and its key in clear, which nobody can read again.

    `owner`: None for a service, which the director `by` makes. `days`: how long it works, 1 to `MAX_DAYS`. Raises ValueError for unknown scopes or days.
    """
    known = SCOPE_IDS if owner else {scope.id for scope in SERVICE_SCOPES}
    if not scopes or not set(scopes) <= known:
        raise ValueError("Choose at least one of the listed permissions.")
    if not 1 <= days <= MAX_DAYS:
        raise ValueError(f"A token works for 1 to {MAX_DAYS} days.")
    key = PREFIX + secrets.token_urlsafe(32)
    with transaction.atomic():
        token = Token.objects.create(
            owner=owner,
            name=name[:80],
            digest=_digest(key),
            hint=key[:12],
            scopes=sorted(scopes),
            expires=timezone.now() + timedelta(days=days),
        )
        _tell(token, f"made for {days} days", by)
    return token, key


def revoke(*, token_id: int, owner: User) -> bool:
    """Stop a token of `owner` from working. False when there is none, or it was stopped before."""
    return bool(_end(Token.objects.filter(pk=token_id, owner=owner)))


def end_service(*, token_id: int, by: User) -> bool:
    """Stop a service's token from working. False when there is none, or it was stopped before."""
    return bool(_end(Token.objects.filter(pk=token_id, owner=None), by))


def revoke_all(owner: User) -> int:
    """Stop every token of a person from working; returns how many did."""
    return _end(Token.objects.filter(owner=owner))


@transaction.atomic
def _end(tokens: QuerySet[Token], by: User | None = None) -> int:
    ending = list(tokens.select_for_update().filter(revoked__isnull=True))
    for token in ending:
        _tell(token, "ended", by)
    return Token.objects.filter(pk__in=[token.pk for token in ending]).update(revoked=timezone.now())


def _tell(token: Token, what: str, by: User | None = None) -> None:
    if token.owner:
        record(AuditEntry.Kind.TOKEN, f"Token {token.hint}… {what}", by=token.owner, about=token.owner)
    else:
        text = f"Token {token.hint}… of the service “{token.name}” {what}"
        record(AuditEntry.Kind.TOKEN, text, by=by or actor_of(token))


def actor_of(token: Token) -> User:
    """Who acts with a token: its owner, or a service, which is nobody in the database and sees what a director sees."""
    if token.owner:
        return token.owner
    service = User(pk=0, name=token.name, is_director=True, is_active=True)
    service.service = token.name
    return service


def end_with_reset(request: Any, user: User, **_: Any) -> None:
    """A password is reset by whoever lost it, or fears that somebody else has it: their tokens end with it."""
    revoke_all(user)


def end_if_wanted(request: Any, user: User, **_: Any) -> None:
    """After a change of password, if the form said so."""
    if request.POST.get("end_tokens"):
        revoke_all(user)


def recognise(key: str) -> Token | None:
    """The working token that `key` opens, its owner loaded; None for anything else."""
    now = timezone.now()
    token = (
        Token.objects.select_related("owner")
        .filter(Q(owner=None) | Q(owner__is_active=True), digest=_digest(key), revoked__isnull=True, expires__gt=now)
        .first()
    )
    if token and (token.used is None or now - token.used > _USED_STEP):
        with transaction.atomic():
            Token.objects.filter(pk=token.pk).update(used=now)
            if token.used is None or timezone.localdate(token.used) != timezone.localdate(now):
                _tell(token, "used")  # once a day: what it did stands in entries of its own
    return token


def _digest(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()
