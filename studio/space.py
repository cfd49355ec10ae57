"""Room on the disk: some is held in reserve, and given back when the disk is full, so that saving goes on.

A full disk comes from uploads, archives or a neighbour; what people type needs little. `DATA/reserve` is a file of real
blocks. Whoever meets a full disk gives it back; the worker makes it again when there is plenty.
"""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
from pathlib import Path

from django.conf import settings
from django.db import OperationalError

from studio import env

RESERVE = 32 << 20
FULL = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})


def free_bytes(folder: Path | None = None) -> int:
    """What this account may still write beside the data (or in another folder), the reserve not counted."""
    place = folder or settings.DATA_DIR
    while not place.exists() and place != place.parent:
        place = place.parent
    return shutil.disk_usage(place).free


def least_free() -> int:
    """The smaller of what is free beside the data and beside the handed-in files."""
    return min(free_bytes(), free_bytes(settings.MEDIA_ROOT))


def warning_line() -> int:
    """Free bytes below which the site calls its disk nearly full."""
    return env.number("TOPFORM_DISK_WARN", 500) << 20


def reserve() -> bool:
    """Make the reserve when it is not there and three times as much is free; True when it is there afterwards."""
    path = settings.DATA_DIR / "reserve"
    if path.exists() and path.stat().st_size >= RESERVE:
        return True
    if free_bytes() < 3 * RESERVE:
        return False
    unfinished = path.with_suffix(".unfinished")
    try:
        with open(os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file:
            for _ in range(RESERVE >> 20):
                file.write(os.urandom(1 << 20))  # not zeros: some disks would store nothing for them
        unfinished.replace(path)
    finally:
        unfinished.unlink(missing_ok=True)
    return True


def give_back() -> bool:
    """Give the reserve back to the disk; True when there was one."""
    try:
        (settings.DATA_DIR / "reserve").unlink()
    except FileNotFoundError:
        return False
    return True


def is_full(error: BaseException | None) -> bool:
    """True when this error, or what caused it, says that a disk is full: ours, or that of PostgreSQL."""
    while error is not None:
        if isinstance(error, OSError) and error.errno in FULL:
            return True
        if isinstance(error, sqlite3.OperationalError) and (
            getattr(error, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_FULL
            or (getattr(error, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_IOERR and free_bytes() < RESERVE)
        ):
            return True
        if isinstance(error, OperationalError) and getattr(error.__cause__, "sqlstate", None) == "53100":
            return True
        error = error.__cause__ or error.__context__
    return False
