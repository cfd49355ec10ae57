"""Reading the token by which a provider says who somebody is (OpenID Connect Core 1.0, section 3.1.3.7).

The signature is always verified, also where the standard would let TLS stand for it; algorithms without a key pair are not
taken, so neither `none` nor the public key used as a password gets through.
"""

from __future__ import annotations

import hmac
import time
from typing import Any

import jwt

ALGORITHMS = ("RS256", "RS384", "RS512", "PS256", "PS384", "PS512", "ES256", "ES384", "ES512", "EdDSA")
LEEWAY = 60  # seconds that the two clocks may differ
NEEDED = ["iss", "sub", "aud", "exp", "iat"]


class TokenRefused(ValueError):
    """The token does not hold; the message says why, for the machine room's log."""


def verified(
    token: str, *, keys: dict[str, Any], issuer: str, client_id: str, nonce: str, max_age: int = 0
) -> dict[str, Any]:
    """The claims of an ID token. `keys`: the provider's JSON Web Key Set; `nonce`, `max_age` (seconds, 0: any): what was sent
    along when it was asked for."""
    try:
        header = jwt.get_unverified_header(token)
        algorithm = header.get("alg")
        if algorithm not in ALGORITHMS:
            raise TokenRefused(f"signed by {algorithm!r}, which is not taken")
        claims: dict[str, Any] = jwt.decode(
            token,
            key=_key(keys, header.get("kid")),
            algorithms=[algorithm],
            audience=client_id,
            issuer=issuer,
            leeway=LEEWAY,
            options={"require": NEEDED},
        )
    except jwt.PyJWTError as error:
        raise TokenRefused(str(error) or type(error).__name__) from error
    if claims.get("azp", client_id) != client_id:
        raise TokenRefused("issued for another client (azp)")
    if not hmac.compare_digest(str(claims.get("nonce", "")).encode(), nonce.encode()):
        raise TokenRefused("it answers another sign-in (nonce)")
    if not isinstance(claims["sub"], str) or not claims["sub"]:
        raise TokenRefused("it names nobody (sub)")
    _refuse_old(claims, max_age)
    return claims


def _refuse_old(claims: dict[str, Any], max_age: int) -> None:
    """Whoever signed in at the provider longer ago than was asked for should have been asked anew there (Core 1.0, section
    3.1.3.7, 13). A provider that does not tell when is taken at its word."""
    when = claims.get("auth_time")
    if max_age and when is not None and (not isinstance(when, int | float) or time.time() - when > max_age + LEEWAY):
        raise TokenRefused("they signed in there too long ago (auth_time)")


def _key(keys: dict[str, Any], number: str | None) -> Any:
    """The key that the token names; the only one when it names none."""
    found = [key for key in jwt.PyJWKSet.from_dict(keys).keys if number is None or key.key_id == number]
    if len(found) != 1:
        raise TokenRefused(f"no key {number!r} among the provider's")
    return found[0].key
