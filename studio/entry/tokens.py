"""Reading the token by which a provider says who somebody is (OpenID Connect Core 1.0, section 3.1.3.7).

The signature is always verified, also where the standard would let TLS stand for it; algorithms without a key pair are not
taken, so neither `none` nor the public key used as a password gets through.
"""

from __future__ import annotations

import hmac
from typing import Any

import jwt

ALGORITHMS = ("RS256", "RS384", "RS512", "PS256", "PS384", "PS512", "ES256", "ES384", "ES512", "EdDSA")
LEEWAY = 60  # seconds that the two clocks may differ
NEEDED = ["iss", "sub", "aud", "exp", "iat"]


class TokenRefused(ValueError):
    """The token does not hold; the message says why, for the machine room's log."""


def verified(token: str, *, keys: dict[str, Any], issuer: str, client_id: str, nonce: str) -> dict[str, Any]:
    """The claims of an ID token. `keys`: the provider's JSON Web Key Set; `nonce`: what was sent along when it was asked for."""
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
    return claims


def _key(keys: dict[str, Any], number: str | None) -> Any:
    """The key that the token names; the only one when it names none."""
    found = [key for key in jwt.PyJWKSet.from_dict(keys).keys if number is None or key.key_id == number]
    if len(found) != 1:
        raise TokenRefused(f"no key {number!r} among the provider's")
    return found[0].key
