"""Password hashing, content security policy, rate limits, the secret key."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from csp.constants import NONE, SELF
from django.contrib.auth.hashers import Argon2PasswordHasher

from studio import env


class Argon2Hasher(Argon2PasswordHasher):
    """Argon2id at 19 MiB, 2 passes, 1 lane: the least that OWASP ASVS 5.0 (appendix C) allows.

    Django's default takes 100 MiB a login; a class of thirty signing in at once would need 1.7 GB.
    """

    time_cost = 2
    memory_cost = 19 * 1024
    parallelism = 1


CONTENT_SECURITY_POLICY: dict[str, Any] = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "media-src": [SELF, "blob:"],
        "worker-src": [SELF],
        "connect-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-src": [NONE],
        "frame-ancestors": [NONE],
    }
}

# What of the device a page may ask for (W3C Permissions Policy): nothing, but the microphone where something is recorded.
NOTHING_OF_THE_DEVICE = "microphone=(), camera=(), geolocation=(), display-capture=()"
MICROPHONE = NOTHING_OF_THE_DEVICE.replace("microphone=()", "microphone=(self)")

# A whole class signs in behind one campus address, so limits per address are wide. Wrong passwords of one account:
# `studio.waits`. Letters of a reset are bounded for one account; each that went out lets its owner in.
RATE_LIMITS = {
    "login": "300/m/ip",
    "login_failed": "100/m/ip",
    "signup": "200/m/ip",
    "reset_password": "60/m/ip,5/h/key",
    "reset_password_from_key": "60/m/ip",
    "change_password": "5/m/user",
    "reauthenticate": "10/m/user",
    "manage_email": "10/m/user",
    "confirm_email": "1/3m/key",
}

PLACEHOLDERS = {"", "changeme", "secret", "development-only", "change-me"}


def secret_key(data_dir: Path) -> str:
    """The signing key: from the environment, or the file that the start command made (mode 0600)."""
    key = env.text("TOPFORM_SECRET_KEY")
    if not key:
        kept = data_dir / "secret_key"
        if kept.is_file():
            key = kept.read_text(encoding="utf-8").strip()
    if key in PLACEHOLDERS:
        raise env.SettingError(
            "There is no secret key. `python3 manage.py demo` and `python3 manage.py serve` make one; "
            "on a server set TOPFORM_SECRET_KEY_FILE to a file holding 50 random characters."
        )
    return key


def mail_server() -> tuple[str, str, int]:
    """E-mail back end, host and port. Without a mail host, letters are written into the data folder."""
    host = env.text("TOPFORM_MAIL_HOST")
    kind = "smtp.EmailBackend" if host else "filebased.EmailBackend"
    return f"django.core.mail.backends.{kind}", host, env.number("TOPFORM_MAIL_PORT", 587)
