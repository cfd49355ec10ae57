"""Putting an archive back: everything is checked before anything is touched, and what was begun is finished.

The archive is unpacked into a folder of its own, every file compared with its checksum. Only then the steps below are
written down in `DATA/restoring.json` and done, each noted when it is through. A restore that is killed in between is
taken up at the next start or restore; until then nobody can open the database (`studio.presence`).
"""

from __future__ import annotations

import datetime as dt
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from studio import archive_first, dumps, presence
from studio.archive import DATABASE, MEDIA, Archive, ArchiveError, explain
from studio.dumps import BackupError

Say = Callable[[str], object]
ROOM = 64 << 20  # bytes that stay free beside what is unpacked


def restore(archive: Path, *, say: Say, incomplete: bool = False) -> Path:
    """Put an archive back. What was there is moved aside, not deleted; returns the folder that holds it.

    The site must be stopped and the data folder held alone (`presence.alone`). Migrate afterwards: the archive may be
    older than the program. `incomplete`: accept an archive of version 0.1.0 that misses files its database names.
    BackupError, with nothing changed, when the archive is damaged, of a newer version, or for another database.
    """
    finish(say)
    stamp = f"{dt.datetime.now():%Y-%m-%d-%H%M%S-%f}"
    room, aside = settings.DATA_DIR / f"restore-{stamp}", settings.DATA_DIR / f"before-restore-{stamp}"
    for left in settings.DATA_DIR.glob("restore-*"):  # of a restore that was killed before it touched anything
        shutil.rmtree(left)
    room.mkdir(parents=True, mode=0o700)
    try:
        _unpack(archive, room, say, incomplete)
        if connection.vendor == "sqlite":
            dumps.check_sqlite(room / DATABASE, f"The database in {archive}")
        dumps.refuse_other_connections()
        aside.mkdir(mode=0o700)
        if connection.vendor != "sqlite":
            dumps.dump_to(aside / DATABASE)
    except BaseException:
        shutil.rmtree(room, ignore_errors=True)
        if aside.exists():
            shutil.rmtree(aside)
        raise
    _note({"room": room.name, "aside": aside.name, "done": []})
    finish(say)
    return aside


def read_manifest(archive: Path) -> dict[str, Any]:
    """The manifest of an archive of either format; BackupError when it is damaged, too new, or for another database."""
    try:
        if archive_first.is_first_format(archive):
            manifest = archive_first.read_manifest(archive)
        else:
            with Archive(archive) as opened:
                manifest = opened.manifest
    except ArchiveError as error:
        raise BackupError(str(error)) from error
    known = {".".join(key) for key in MigrationLoader(None, ignore_no_migrations=True).disk_migrations}
    if unknown := set(manifest["migrations"]) - known:
        raise BackupError(
            f"{archive} was made by a newer version of the site ({manifest.get('version')}; it has {sorted(unknown)[0]}). "
            "Update the program first. Nothing was changed."
        )
    if manifest["engine"] != connection.vendor:
        raise BackupError(f"{archive} holds a {manifest['engine']} database, this site uses {connection.vendor}.")
    return manifest


def _unpack(archive: Path, room: Path, say: Say, incomplete: bool) -> None:
    read_manifest(archive)
    try:
        if archive_first.is_first_format(archive):
            _unpack_first(archive, room, say, incomplete)
            return
        with Archive(archive) as opened:
            free = shutil.disk_usage(room).free
            if opened.size() + ROOM > free:
                raise BackupError(
                    f"{archive} unpacks to {opened.size() >> 20} MB and {free >> 20} MB are free. Nothing was changed."
                )
            problems = opened.check(room)
    except ArchiveError as error:
        raise BackupError(str(error)) from error
    if problems:
        raise BackupError(explain(archive, problems))


def _unpack_first(archive: Path, room: Path, say: Say, incomplete: bool) -> None:
    say(archive_first.WARNING)
    absent = archive_first.unpack(archive, room)
    if absent and not incomplete:
        raise BackupError(
            f"{archive} misses {len(absent)} files that its database names (the first: {absent[0]}). Nothing was changed. "
            "To put back what it has all the same, add --incomplete."
        )
    for name in absent:
        say(f"not in the archive: {name}")


def finish(say: Say) -> bool:
    """Do the steps of a restore that are still to be done; True when there were any."""
    path = settings.DATA_DIR / presence.JOURNAL
    if not path.exists():
        return False
    journal = json.loads(path.read_text(encoding="utf-8"))
    room, aside = settings.DATA_DIR / journal["room"], settings.DATA_DIR / journal["aside"]
    if journal["done"]:
        say("A restore was cut short; it is taken up where it ended.")
    connection.close()
    for name, step in STEPS.items():
        if name not in journal["done"]:
            step(room, aside)
            journal["done"].append(name)
            _note(journal)
    path.unlink()
    shutil.rmtree(room, ignore_errors=True)
    return True


def _note(journal: dict[str, Any]) -> None:
    """Write the journal so that it is either the old one or the new one, whenever the power goes."""
    path = settings.DATA_DIR / presence.JOURNAL
    new = path.with_suffix(".new")
    with open(new, "w", encoding="utf-8") as file:
        json.dump(journal, file)
        file.flush()
        os.fsync(file.fileno())
    new.replace(path)


def _database_aside(room: Path, aside: Path) -> None:
    if connection.vendor == "sqlite":
        live = Path(connection.settings_dict["NAME"])
        for suffix in ("", "-wal", "-shm"):
            part = live.with_name(live.name + suffix)
            if part.exists():
                shutil.move(part, aside / part.name)


def _database_in(room: Path, aside: Path) -> None:
    source = room / DATABASE
    if not source.exists():
        return
    if connection.vendor == "sqlite":
        shutil.move(source, connection.settings_dict["NAME"])
    else:
        connection.close_pool()  # type: ignore[attr-defined]
        dumps.put_dump(source)


def _media_aside(room: Path, aside: Path) -> None:
    _carry(settings.MEDIA_ROOT, aside / MEDIA)


def _media_in(room: Path, aside: Path) -> None:
    settings.MEDIA_ROOT.mkdir(parents=True, exist_ok=True, mode=0o700)
    _carry(room / MEDIA, settings.MEDIA_ROOT)


def _carry(source: Path, target: Path) -> None:
    """Move what a folder holds; may be cut short and done again. The folder itself may be a disk of its own and stays."""
    if not source.is_dir():
        return
    target.mkdir(parents=True, exist_ok=True, mode=0o700)
    for part in sorted(source.iterdir()):
        place = target / part.name
        if not place.exists() and part.stat().st_dev == target.stat().st_dev:
            part.rename(place)
        elif part.is_dir():
            shutil.copytree(part, place, dirs_exist_ok=True)
            shutil.rmtree(part)
        else:
            shutil.copy2(part, place)
            part.unlink()


STEPS: dict[str, Callable[[Path, Path], None]] = {
    "database aside": _database_aside,
    "database in": _database_in,
    "media aside": _media_aside,
    "media in": _media_in,
}
