"""Signatures of webhooks: HMAC-SHA256 over id, timestamp and body (Standard Webhooks 1.0, "Signature scheme"). Pure."""

from __future__ import annotations

import base64
import hmac
import secrets
from collections.abc import Iterable

PREFIX = "whsec_"
BYTES = 32  # the specification asks for 24 to 64


def new_secret() -> str:
    return PREFIX + base64.b64encode(secrets.token_bytes(BYTES)).decode()


def signature(secret: str, message: str, timestamp: int, body: str) -> str:
    """One signature. `timestamp` is in seconds since 1970.

    >>> signature("whsec_plJ3nmyCDGBKInavdOK15jsl", "msg_loFOjxBNrRLzqYUf", 1731705121,
    ...           '{"event_type":"ping","data":{"success":true}}')
    'v1,rAvfW3dJ/X/qxhsaXPOyyCGmRKsaKWcsNccKXlIktD0='
    """
    key = base64.b64decode(secret.removeprefix(PREFIX))
    signed = f"{message}.{timestamp}.{body}".encode()
    return "v1," + base64.b64encode(hmac.new(key, signed, "sha256").digest()).decode()


def headers(known: Iterable[str], message: str, timestamp: int, body: str) -> dict[str, str]:
    """What is sent beside a body; one signature for each secret that holds."""
    return {
        "Content-Type": "application/json",
        "webhook-id": message,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(signature(secret, message, timestamp, body) for secret in known),
    }
