"""Private storage of the programme's own sound files: never under the static address, only behind a view."""

from __future__ import annotations

import uuid
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils.deconstruct import deconstructible

from studio.storage import PrivateFiles


@deconstructible
class PrivateStorage(PrivateFiles):
    """Files in the folder that backups keep; has no URL of its own. The folder is looked up at each use."""

    def __init__(self) -> None:
        super().__init__(base_url=None)

    @property
    def base_location(self) -> str:
        return str(settings.MEDIA_ROOT)

    @property
    def location(self) -> str:
        return str(Path(self.base_location).resolve())

    def url(self, name: str | None) -> str:
        raise ValueError("Private files have no address; a view that checks who asks sends them.")


def recording_path(_instance: Any, _name: str) -> str:
    """A name of our own making: nothing that was typed reaches the file system."""
    return f"recordings/{uuid.uuid4().hex}"
