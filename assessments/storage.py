"""Private storage of what players hand in: never under the static or media address, only behind a view."""

from __future__ import annotations

import uuid
from typing import Any

from django.conf import settings
from django.core.files.storage import FileSystemStorage

from studio.storage import PrivateFiles


def private_storage() -> FileSystemStorage:
    """Where hand-ins lie: in the folder that backups keep. A callable, so that migrations name no folder."""
    return PrivateFiles(location=settings.MEDIA_ROOT, base_url=None)


def submission_path(submission: Any, _name: str) -> str:
    """A name of our own making: nothing the player typed reaches the file system."""
    return f"submissions/{submission.attempt_id}/{uuid.uuid4().hex}"
