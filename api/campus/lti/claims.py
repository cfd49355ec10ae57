"""What an id token must say (LTI Core 1.3, section 5.3; Security Framework 1.0, section 5.1.3). Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

LTI = "https://purl.imsglobal.org/spec/lti/claim/"
AGS_CLAIM = "https://purl.imsglobal.org/spec/lti-ags/claim/endpoint"
NRPS_CLAIM = "https://purl.imsglobal.org/spec/lti-nrps/claim/namesroleservice"
DEEP = "https://purl.imsglobal.org/spec/lti-dl/claim/"
RESOURCE, DEEP_LINKING = "LtiResourceLinkRequest", "LtiDeepLinkingRequest"
VERSION = "1.3.0"
LEEWAY = 60  # seconds by which two clocks may differ
OLDEST = 600  # seconds since a token was made
LONGEST_ID = 255


class Refused(Exception):
    """The message is not accepted; says why."""


def check(
    claims: Mapping[str, Any], *, issuer: str, client_id: str, deployments: Sequence[str], nonce: str, now: float
) -> None:
    """Raise `Refused` for the first thing that is not as it must be. `now`: seconds since 1970."""
    _identity(claims, issuer, client_id)
    _times(claims, now)
    if not nonce or claims.get("nonce") != nonce:
        raise Refused("The message answers another request than the one that was made (nonce).")
    if claims.get(LTI + "version") != VERSION:
        raise Refused("The message is not LTI 1.3.")
    if text_of(claims, LTI + "deployment_id") not in deployments:
        raise Refused("This deployment of the course platform is not registered here.")
    if not isinstance(claims.get(LTI + "roles"), list):
        raise Refused("The message names no roles.")
    if not text_of(claims, "sub"):
        raise Refused("The message names no person. The course platform must send who opens the link.")
    _kind(claims)


def _identity(claims: Mapping[str, Any], issuer: str, client_id: str) -> None:
    if claims.get("iss") != issuer:
        raise Refused("The message is from another issuer.")
    audience = claims.get("aud")
    audiences = audience if isinstance(audience, list) else [audience]
    if client_id not in audiences:
        raise Refused("The message is for another client.")
    if (len(audiences) > 1 or "azp" in claims) and claims.get("azp") != client_id:
        raise Refused("The message is for several clients and was not made for this one.")


def _times(claims: Mapping[str, Any], now: float) -> None:
    times: dict[str, Any] = {name: claims.get(name) for name in ("exp", "iat")}
    for name, value in times.items():
        if not isinstance(value, int | float) or isinstance(value, bool) or not 0 < value < 10**12:
            raise Refused(f"The message has no time ({name}).")
    if times["exp"] <= now - LEEWAY:
        raise Refused("The message is past its time. Open the link in the course again.")
    if times["iat"] > now + LEEWAY or _number(claims.get("nbf")) > now + LEEWAY:
        raise Refused("The message is from the future: the clocks of the two machines differ.")
    if times["iat"] < now - OLDEST - LEEWAY:
        raise Refused("The message is too old. Open the link in the course again.")


def _number(value: Any) -> float:
    return float(value) if isinstance(value, int | float) else 0.0


def _kind(claims: Mapping[str, Any]) -> None:
    kind = claims.get(LTI + "message_type")
    if kind == RESOURCE:
        if not text_of(part(claims, LTI + "resource_link"), "id"):
            raise Refused("The message names no link of the course (resource_link).")
        if not text_of(claims, LTI + "target_link_uri"):
            raise Refused("The message does not say what it opens (target_link_uri).")
    elif kind == DEEP_LINKING:
        asked = part(claims, DEEP + "deep_linking_settings")
        if not text_of(asked, "deep_link_return_url", most=1000):
            raise Refused("The message does not say where the choice goes (deep_link_return_url).")
        if "ltiResourceLink" not in (asked.get("accept_types") or ()):
            raise Refused("The course platform takes no links here. Choose a place that takes links.")
    else:
        raise Refused("The site does not know this kind of message.")


def part(claims: Mapping[str, Any], name: str) -> dict[str, Any]:
    """A claim that is an object; empty when it is none."""
    value = claims.get(name)
    return value if isinstance(value, dict) else {}


def text_of(claims: Mapping[str, Any], name: str, *, most: int = LONGEST_ID) -> str:
    """A claim that is text of up to `most` characters; "" when it is none. What no database keeps (NUL, half a surrogate
    pair) is none."""
    value = claims.get(name)
    if not isinstance(value, str) or len(value) > most or "\x00" in value:
        return ""
    return "" if any("\ud800" <= char <= "\udfff" for char in value) else value
