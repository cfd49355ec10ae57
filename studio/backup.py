"""Backups: one archive with the database, the handed-in files and a manifest with the checksum of each.

An archive gets its final name only after it was written to the disk and read back in full.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from studio.archive import (
    DATABASE,
    MEDIA,
    Archive,
    ArchiveError,
    Writer,
    chunks_of,
    explain,
    is_packed,
)
from studio.dumps import BackupBusy, BackupError, database_chunks, database_size
from studio.locks import Lock
from studio.retention import Keep, to_remove

__all__ = ["BackupError", "make_backup", "prune"]

Tell = Callable[[int, int, str], object]  # done and total bytes, what is done now


def _quiet(done: int, total: int, what: str) -> None:
    """Tell nobody."""


def make_backup(folder: Path, *, reason: str = "by-hand", tell: Tell = _quiet) -> Path:
    """Write one archive into `folder` while the site may be running; returns its path. BackupError or OSError when it fails."""
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    lock = Lock(folder / ".writing")
    if not lock.take():
        raise BackupBusy(f"Another backup is being written to {folder}; wait until it is done.")
    try:
        _clear(folder)
        stamp = timezone.now().strftime("%Y-%m-%d-%H%M%S-%f")
        room = folder / f".unfinished-{stamp}"
        room.mkdir(mode=0o700)
        try:
            _write(room / "archive", room, reason, tell)
            target = folder / f"topform-{stamp}-{reason}.zip"
            (room / "archive").rename(target)
            _sync(folder)
        finally:
            shutil.rmtree(room, ignore_errors=True)
        return target
    finally:
        lock.give_back()


def _clear(folder: Path) -> None:
    """Take away what backups left that were killed; this process holds the lock, so nobody writes there."""
    for room in folder.glob(".unfinished-*"):
        shutil.rmtree(room)


def _sync(folder: Path) -> None:
    """Make the new name last on the disk, where the system can."""
    if os.name != "nt":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _write(path: Path, room: Path, reason: str, tell: Tell) -> None:
    manifest = _manifest(reason)
    # PostgreSQL's dump is smaller than its database; how much, nobody knows before.
    writer = Writer(path, _counter(tell, database_size() + sum(size for _, size in _media()), "writing"))
    try:
        # The database first: a file that is handed in meanwhile is then one too many, never one too few.
        writer.add(DATABASE, database_chunks(room), packed=connection.vendor != "sqlite")
        for file, _ in _media():
            name = f"{MEDIA}/{file.relative_to(settings.MEDIA_ROOT).as_posix()}"
            writer.add(name, chunks_of(file), packed=is_packed(file))
        writer.close(manifest)
    except BaseException:
        writer.abandon()
        raise
    _read_back(path, _counter(tell, sum(int(each["size"]) for each in writer.files.values()), "reading back"))


def _counter(tell: Tell, total: int, what: str) -> Callable[[int], None]:
    done = 0

    def progress(number: int) -> None:
        nonlocal done
        done += number
        tell(min(done, total), total, what)

    return progress


def _media() -> Iterator[tuple[Path, int]]:
    """Every handed-in file with its size; links are not followed."""
    for folder, _, names in os.walk(settings.MEDIA_ROOT):
        for name in sorted(names):
            path = Path(folder, name)
            if path.is_file() and not path.is_symlink():
                yield path, path.stat().st_size


def _read_back(path: Path, progress: Callable[[int], None]) -> None:
    try:
        with Archive(path) as archive:
            problems = archive.check(progress=progress)
    except ArchiveError as error:
        raise BackupError(f"The archive cannot be read back: {error}") from error
    if problems:
        raise BackupError(f"The archive was read back and is not what was written. {explain(path, problems)}")


def _manifest(reason: str) -> dict[str, Any]:
    loader = MigrationLoader(connection)
    return {
        "version": settings.VERSION,
        "made": timezone.now().isoformat(),
        "reason": reason,
        "engine": connection.vendor,
        "migrations": sorted(".".join(key) for key in loader.applied_migrations),
    }


def prune(folder: Path, keep: Keep) -> None:
    """Remove daily archives that the rule does not keep; those made by hand or before an update stay."""
    for name in to_remove((path.name for path in folder.iterdir()), keep):
        (folder / name).unlink()
