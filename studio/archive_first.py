"""Archives of version 0.1.0: a compressed tar without checksums of its files, only one of the database.

What can be checked is: the checksum that gzip keeps of the whole stream (CRC-32, RFC 1952), read to its very end, which
the first version did not do; the checksum of the database; and that every file the database names is there.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import shutil
import sqlite3
import tarfile
import zlib
from contextlib import closing
from pathlib import Path
from typing import Any

from django.apps import apps
from django.db.models import FileField

from studio.archive import CHUNK, DATABASE, LARGEST_MANIFEST, MANIFEST, MEDIA, ArchiveError, is_safe_name

DAMAGE = (OSError, tarfile.TarError, EOFError, zlib.error, ValueError, KeyError)
WARNING = (
    "This archive was made by version 0.1.0, which kept no checksums of files. Checked instead: the checksum of the whole "
    "archive (CRC-32), the checksum of the database, and that every file the database names is there."
)


def is_first_format(path: Path) -> bool:
    """True for a gzip file: what the first version wrote."""
    try:
        with open(path, "rb") as file:
            return file.read(2) == b"\x1f\x8b"
    except OSError:
        return False


def read_manifest(path: Path) -> dict[str, Any]:
    """The manifest; ArchiveError when there is none."""
    try:
        with tarfile.open(path, "r:gz") as tar:
            member = tar.next()
            if member is None or member.name != MANIFEST or not member.isfile() or member.size > LARGEST_MANIFEST:
                raise KeyError(MANIFEST)
            manifest = json.loads(tar.extractfile(member).read())  # type: ignore[union-attr]
    except DAMAGE as error:
        raise ArchiveError(f"{path} is not a backup that can be read ({error}).") from error
    if not isinstance(manifest, dict) or not {"engine", "migrations", "sha256"} <= set(manifest):
        raise ArchiveError(f"{path} has a manifest that this version does not know.")
    return manifest


def unpack(path: Path, target: Path) -> list[str]:
    """Check the whole stream, then unpack it. Returns the files that the database names and the archive has not."""
    read_to_the_end(path)
    manifest = read_manifest(path)
    try:
        with tarfile.open(path, "r:gz") as tar:
            for member in tar:
                _unpack_one(tar, member, path, target)
    except DAMAGE as error:
        raise ArchiveError(f"{path} is damaged ({error}). Nothing was changed.") from error
    found = _digest(target / DATABASE) if (target / DATABASE).is_file() else "nothing"
    if found != manifest["sha256"]:
        raise ArchiveError(
            f"{path} is damaged. {DATABASE}: expected checksum SHA-256 {manifest['sha256']}, found {found}. Nothing was changed."
        )
    if manifest["engine"] != "sqlite":
        return []
    return [name for name in named_files(target / DATABASE) if not (target / MEDIA / name).is_file()]


def read_to_the_end(path: Path) -> None:
    try:
        with gzip.open(path) as stream:
            while stream.read(CHUNK):
                continue
    except DAMAGE as error:
        raise ArchiveError(
            f"{path} is damaged: its content does not have the checksum that it ends with ({error}). "
            "Nothing was changed."
        ) from error


def _unpack_one(tar: tarfile.TarFile, member: tarfile.TarInfo, path: Path, target: Path) -> None:
    if member.name == MANIFEST or (member.isdir() and (member.name == MEDIA or is_safe_name(member.name))):
        return
    source = tar.extractfile(member) if member.isfile() and is_safe_name(member.name) else None
    if source is None:
        raise ArchiveError(
            f"{path} is damaged or not ours: {member.name!r} is not a file below {MEDIA}/. Nothing was changed."
        )
    place = target / member.name
    place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with open(place, "xb") as out:
        shutil.copyfileobj(source, out, CHUNK)


def _digest(path: Path) -> str:
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def named_files(database: Path) -> list[str]:
    """Every file that a row of this SQLite database names. Tables and columns that it does not have yet are left out."""
    names: set[str] = set()
    fields = [
        field for model in apps.get_models() for field in model._meta.local_fields if isinstance(field, FileField)
    ]
    with closing(sqlite3.connect(f"file:{database}?mode=ro", uri=True)) as rows:
        for field in fields:
            table, column = field.model._meta.db_table, field.column
            known = {row[1] for row in rows.execute(f'PRAGMA table_info("{table}")')}
            if column in known:
                names |= {row[0] for row in rows.execute(f'SELECT "{column}" FROM "{table}"') if row[0]}
    return sorted(names)
