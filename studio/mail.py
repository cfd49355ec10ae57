"""Whether letters leave the house: without a mail server they are files in the data folder, and the pages say so."""

from __future__ import annotations

from django.conf import settings

FILES = "django.core.mail.backends.filebased.EmailBackend"


def goes_out() -> bool:
    """Whether a mail server takes letters."""
    return bool(settings.EMAIL_BACKEND != FILES)


def folder() -> str:
    """Where letters lie that no server took."""
    return str(settings.EMAIL_FILE_PATH)
