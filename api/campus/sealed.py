"""Secrets that the site must read again (private keys, secrets of webhooks), closed with the site's secret key.

They lie in the database and in its archives, so whoever has an archive alone must not be able to use them. Fernet
(AES-128-CBC with HMAC-SHA-256), its key derived from the secret key by HKDF (RFC 5869); older secret keys still open.
"""

from __future__ import annotations

import base64

from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings


class CannotOpen(Exception):
    """Sealed with a secret key that the site does not have any more."""


def seal(text: str) -> str:
    return _lock().encrypt(text.encode()).decode()


def unseal(sealed: str) -> str:
    """Raises `CannotOpen`."""
    try:
        return _lock().decrypt(sealed.encode()).decode()
    except InvalidToken as error:
        raise CannotOpen from error


def _lock() -> MultiFernet:
    return MultiFernet([_key(text) for text in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)])


def _key(secret: str) -> Fernet:
    derived = HKDF(algorithm=SHA256(), length=32, salt=None, info=b"topform sealed secrets").derive(secret.encode())
    return Fernet(base64.urlsafe_b64encode(derived))
