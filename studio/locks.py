"""File locks behind one door. A lock ends with the process that took it, however that process ends."""

from __future__ import annotations

from pathlib import Path
from typing import IO

import portalocker


class Lock:
    """An exclusive lock on one file. The file stays; only the lock on it counts, never that it is there."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._file: IO[bytes] | None = None

    def take(self) -> bool:
        """True when the lock is held now; False when another holds it. Never waits. OSError: no such folder."""
        file = open(self.path, "ab")  # noqa: SIM115 (held until `give_back`)
        try:
            portalocker.lock(file, portalocker.LockFlags.EXCLUSIVE | portalocker.LockFlags.NON_BLOCKING)
        except portalocker.LockException:
            file.close()
            return False
        self._file = file
        return True

    def give_back(self) -> None:
        """End the lock; nothing to do when it is not held."""
        if self._file:
            self._file.close()
            self._file = None
