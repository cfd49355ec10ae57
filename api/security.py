"""Who calls (token), what for (scope), how often (throttle)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.throttling import ScopedRateThrottle, SimpleRateThrottle

from api.models import Token
from api.scopes import PEOPLE_WRITE
from api.tokens import actor_of, recognise
from studio.models import User

KEYWORD = b"bearer"
READS = ("GET", "HEAD")


class TokenAuthentication(BaseAuthentication):
    """`Authorization: Bearer topform_…` (RFC 6750)."""

    def authenticate(self, request: Request) -> tuple[User, Token] | None:
        parts = get_authorization_header(request).split()
        if not parts or parts[0].lower() != KEYWORD:
            return None
        if len(parts) != 2:
            raise AuthenticationFailed("Send one token: Authorization: Bearer TOKEN.")
        token = recognise(parts[1].decode("latin-1"))
        if token is None:
            raise AuthenticationFailed(
                "This token is unknown, expired or revoked. Make a new one under Account, Tokens."
            )
        return actor_of(token), token

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="topform"'


class HasScope(BasePermission):
    """The view's `scopes` says for each method which scope the token needs."""

    def has_permission(self, request: Request, view: Any) -> bool:
        if request.method == "OPTIONS":
            return request.auth is not None
        needed = view.scopes.get("GET" if request.method == "HEAD" else request.method)
        if needed is None:
            return True  # the view answers 405 itself
        if request.auth is None:
            return False
        token: Token = request.auth  # type: ignore[assignment]
        if token.owner_id is None and request.method not in READS and needed != PEOPLE_WRITE:
            self.message = "A service reads, and gives and takes chairs. Everything else is done with a person's token."
            return False
        self.message = f"This token lacks the permission “{needed}”."
        return needed in token.scopes


class PerToken(SimpleRateThrottle):
    """A fair share for each token; strangers share one by address."""

    scope = "token"

    def get_cache_key(self, request: Request, view: Any) -> str:
        ident = f"t{request.auth.pk}" if request.auth else self.get_ident(request)
        return self.cache_format % {"scope": self.scope, "ident": ident}


class PerTokenHeavy(ScopedRateThrottle):
    """A smaller share for calls that compute (a view with `throttle_scope`)."""

    def get_cache_key(self, request: Request, view: Any) -> str:
        ident = f"t{request.auth.pk}" if request.auth else self.get_ident(request)
        return self.cache_format % {"scope": self.scope, "ident": ident}


def remaining(throttles: Sequence[Any]) -> dict[str, str]:
    """Headers that say how many calls are left, and for how many seconds (IETF draft httpapi-ratelimit-headers)."""
    found: dict[str, str] = {}
    for one in throttles:
        if getattr(one, "rate", None) and hasattr(one, "history"):
            left = max(0, one.num_requests - len(one.history))
            resets = int(one.duration - (one.now - one.history[-1])) if one.history else one.duration
            found["RateLimit-Policy"] = f'"{one.scope}";q={one.num_requests};w={one.duration}'
            found["RateLimit"] = f'"{one.scope}";r={left};t={max(0, resets)}'
    return found
