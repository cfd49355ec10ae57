"""Signed tokens (JWT, RFC 7519) by one well-kept library, and only those that LTI needs: RS256 (RFC 7518, 3.3).

What a token says of its own algorithm is never believed: RS256 with an RSA key of the platform's set, or nothing. So
neither `none` nor HS256 with the public key as its secret passes (RFC 8725, 3.1).
"""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from joserfc import jwt
from joserfc.errors import JoseError
from joserfc.jwk import RSAKey

ALGORITHM = "RS256"
BITS = LEAST_BITS = 2048
LONGEST = 100_000  # characters of a token


class NotValid(Exception):
    """This is no token that may be believed; the message says why."""


class UnknownKey(NotValid):
    """Signed with a key that is not in the set: it may have been changed since the set was read."""


@dataclass(frozen=True)
class NewKey:
    kid: str
    private: str  # PEM
    public: dict[str, Any]  # JWK


def new_key() -> NewKey:
    key = RSAKey.generate_key(BITS, parameters={"use": "sig", "alg": ALGORITHM}, auto_kid=True)
    return NewKey(str(key.kid), key.as_pem(private=True).decode(), dict(key.as_dict(private=False)))


def sign(claims: Mapping[str, Any], *, private: str, kid: str) -> str:
    return jwt.encode({"alg": ALGORITHM, "kid": kid}, dict(claims), RSAKey.import_key(private))


def read(token: str, keys: Mapping[str, Any]) -> dict[str, Any]:
    """The claims of a token that a key of this set signed; nothing of them is checked yet. Raises `NotValid`."""
    header = _header(token)
    if header.get("alg") != ALGORITHM:
        raise NotValid(f"It is not signed by {ALGORITHM}.")
    key = _key(header.get("kid"), keys)
    try:
        claims = jwt.decode(token, key, algorithms=[ALGORITHM]).claims
    except (JoseError, ValueError, TypeError) as error:
        raise NotValid("Its signature is not the platform's.") from error
    if not isinstance(claims, dict):
        raise NotValid("It holds no claims.")
    return claims


def _header(token: str) -> dict[str, Any]:
    if len(token) > LONGEST or token.count(".") != 2:
        raise NotValid("It is no signed token.")
    first = token.partition(".")[0]
    try:
        header = json.loads(base64.urlsafe_b64decode(first + "=" * (-len(first) % 4)))
    except (ValueError, RecursionError) as error:
        raise NotValid("It is no signed token.") from error
    if not isinstance(header, dict):
        raise NotValid("It is no signed token.")
    return header


def _key(kid: Any, keys: Mapping[str, Any]) -> RSAKey:
    rows = keys.get("keys") if isinstance(keys, Mapping) else None
    usable = [
        row for row in rows or () if isinstance(row, dict) and row.get("kty") == "RSA" and row.get("use") != "enc"
    ]
    fitting = [row for row in usable if row.get("kid") == kid] if kid is not None else usable
    if len(fitting) != 1:
        raise UnknownKey("It names no key of the platform's key set.")
    try:
        key = RSAKey.import_key({name: fitting[0][name] for name in ("kty", "n", "e")})
        bits = key.raw_value.key_size
    except (JoseError, KeyError, ValueError, TypeError, AttributeError) as error:
        raise NotValid("The key in the platform's key set cannot be read.") from error
    if bits < LEAST_BITS:
        raise NotValid(f"The platform's key is shorter than {LEAST_BITS} bits.")
    return key
