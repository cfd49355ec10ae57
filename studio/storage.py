"""Files of the site's own: no address, closed to other accounts, and nothing half-written stays."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files.storage import FileSystemStorage


class PrivateFiles(FileSystemStorage):
    """A folder without an address. Names must be of our own making and used once."""

    def _save(self, name: str, content: Any) -> str:
        try:
            return str(super()._save(name, content))  # type: ignore[misc]
        except OSError:  # a full disk in the middle of a file
            Path(self.path(name)).unlink(missing_ok=True)
            raise


def private_files() -> PrivateFiles:
    """The folder that backups keep. A callable, so that migrations name no folder."""
    return PrivateFiles(location=settings.MEDIA_ROOT, base_url=None)
