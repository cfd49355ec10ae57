"""Backups: one archive with the database, the handed-in files and a manifest; and back again.

SQLite is read through its backup interface, never copied: a plain copy of a database in use loses
committed rows and still looks sound. PostgreSQL goes through pg_dump and pg_restore.
"""
from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
import tarfile
import tempfile
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

MANIFEST, DATABASE, MEDIA = "manifest.json", "database", "media"


class BackupError(Exception):
    """The backup cannot be made or put back; the message says why, and that nothing was changed."""


def make_backup(folder: Path, *, reason: str = "by-hand") -> Path:
    """Write one archive into `folder` while the site may be running; returns its path."""
    folder.mkdir(parents=True, exist_ok=True)
    stamp = timezone.now().strftime("%Y-%m-%d-%H%M%S-%f")
    target = folder / f"topform-{stamp}-{reason}.tar.gz"
    with tempfile.TemporaryDirectory(dir=folder) as room:
        work = Path(room)
        _dump(work / DATABASE)
        (work / MANIFEST).write_text(json.dumps(_manifest(work / DATABASE, reason), indent=1))
        unfinished = work / "archive"
        with tarfile.open(unfinished, "w:gz", compresslevel=6) as archive:
            archive.add(work / MANIFEST, MANIFEST)
            archive.add(work / DATABASE, DATABASE)
            if settings.MEDIA_ROOT.exists():
                archive.add(settings.MEDIA_ROOT, MEDIA)
        os.chmod(unfinished, 0o600)
        unfinished.rename(target)  # an archive with a final name is a complete one
    return target


def prune(folder: Path, *, keep: int) -> None:
    """Remove the oldest daily archives beyond `keep`; those made by hand or before an update stay."""
    for path in sorted(folder.glob("topform-*-daily.tar.gz"))[:-keep]:
        path.unlink()


def _manifest(database: Path, reason: str) -> dict[str, Any]:
    loader = MigrationLoader(connection)
    return {
        "version": settings.VERSION,
        "made": timezone.now().isoformat(),
        "reason": reason,
        "engine": connection.vendor,
        "migrations": sorted(".".join(key) for key in loader.applied_migrations),
        "sha256": _digest(database),
    }


def _digest(path: Path) -> str:
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _dump(target: Path) -> None:
    if connection.vendor == "sqlite":
        source = sqlite3.connect(f"file:{connection.settings_dict['NAME']}?mode=ro", uri=True)
        copy = sqlite3.connect(target)
        try:
            source.backup(copy)
        finally:
            copy.close()
            source.close()
    else:
        _postgres("pg_dump", "--format=custom", "--no-owner", "--file", str(target))


def _postgres(program: str, *arguments: str) -> None:
    """Run one of PostgreSQL's own programs on the site's database."""
    if not shutil.which(program):
        raise BackupError(f"{program} was not found; install PostgreSQL's client programs (Debian: postgresql-client).")
    given = connection.settings_dict
    names = {"PGHOST": "HOST", "PGPORT": "PORT", "PGUSER": "USER", "PGPASSWORD": "PASSWORD", "PGDATABASE": "NAME"}
    environment = os.environ | {variable: str(given[key]) for variable, key in names.items() if given[key]}
    database = ["--dbname", given["NAME"]] if program == "pg_restore" else []
    done = subprocess.run([program, *database, *arguments], env=environment, capture_output=True, text=True)
    if done.returncode:
        raise BackupError(f"{program} failed: {done.stderr.strip().splitlines()[-1] if done.stderr else done.returncode}")


def read_manifest(archive: Path) -> dict[str, Any]:
    """The manifest of an archive; BackupError when it is not one of ours, is damaged, or is too new."""
    try:
        with tarfile.open(archive) as tar:
            member = tar.extractfile(MANIFEST)
            manifest = json.loads(member.read()) if member else None
    except (OSError, tarfile.TarError, KeyError, EOFError, json.JSONDecodeError) as error:
        raise BackupError(f"{archive} is not a backup that can be read ({error}).") from error
    if not isinstance(manifest, dict) or not {"engine", "migrations", "sha256"} <= set(manifest):
        raise BackupError(f"{archive} has a manifest that this version does not know.")
    known = {".".join(key) for key in MigrationLoader(None, ignore_no_migrations=True).disk_migrations}
    if unknown := set(manifest["migrations"]) - known:
        raise BackupError(
            f"{archive} was made by a newer version of the site ({manifest.get('version')}; it has {sorted(unknown)[0]}). "
            "Update the program first. Nothing was changed."
        )
    if manifest["engine"] != connection.vendor:
        raise BackupError(f"{archive} holds a {manifest['engine']} database, this site uses {connection.vendor}.")
    return manifest


def restore(archive: Path) -> Path:
    """Put an archive back. What was there is moved aside, not deleted; returns the folder that holds it.

    The site must be stopped. Migrate afterwards: the archive may be older than the program.
    """
    manifest = read_manifest(archive)
    aside = settings.DATA_DIR / f"before-restore-{dt.datetime.now():%Y-%m-%d-%H%M%S-%f}"
    settings.DATA_DIR.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=settings.DATA_DIR) as room:
        work = Path(room)
        try:
            with tarfile.open(archive) as tar:
                tar.extractall(work, filter="data")
        except (OSError, tarfile.TarError, EOFError) as error:
            raise BackupError(f"{archive} is damaged ({error}). Nothing was changed.") from error
        if _digest(work / DATABASE) != manifest["sha256"]:
            raise BackupError(f"{archive} is damaged: its database does not have the recorded checksum. Nothing was changed.")
        aside.mkdir()
        _put_database(work / DATABASE, aside)
        if settings.MEDIA_ROOT.exists():
            shutil.move(settings.MEDIA_ROOT, aside / MEDIA)
        (work / MEDIA).mkdir(exist_ok=True)
        shutil.move(work / MEDIA, settings.MEDIA_ROOT)
    return aside


def _put_database(source: Path, aside: Path) -> None:
    if connection.vendor != "sqlite":
        _dump(aside / DATABASE)
        _postgres("pg_restore", "--clean", "--if-exists", "--no-owner", "--single-transaction", str(source))
        return
    connection.close()
    live = Path(connection.settings_dict["NAME"])
    for suffix in ("", "-wal", "-shm"):
        part = live.with_name(live.name + suffix)
        if part.exists():
            shutil.move(part, aside / part.name)
    shutil.move(source, live)
