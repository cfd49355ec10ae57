"""Files of the site's own: no address, closed to other accounts, nothing half-written stays, what is kept is on the disk."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files.storage import FileSystemStorage


class PrivateFiles(FileSystemStorage):
    """A folder without an address. Names must be of our own making and used once."""

    def _save(self, name: str, content: Any) -> str:
        try:
            stored = str(super()._save(name, content))  # type: ignore[misc]
            make_last(Path(self.path(stored)), Path(self.location))
        except OSError:  # a full disk in the middle of a file
            Path(self.path(name)).unlink(missing_ok=True)
            raise
        return stored


def make_last(path: Path, root: Path) -> None:
    """Wait until a file below `root`, and its name, would be there if the power went now."""
    with open(path, "rb+") as file:
        os.fsync(file.fileno())
    folders = [folder for folder in path.parents if folder == root or root in folder.parents]
    for folder in folders if os.name != "nt" else []:  # Windows opens no folders
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def private_files() -> PrivateFiles:
    """The folder that backups keep. A callable, so that migrations name no folder."""
    return PrivateFiles(location=settings.MEDIA_ROOT, base_url=None)
