"""From SQLite to PostgreSQL and back: every row, every counter, every file; compared before it counts.

The whole of it is one transaction in the new place. The old place is not touched until everything there was read back;
then a SQLite file left behind is renamed, so that nobody goes on working in it by mistake.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import FileField, Model

from studio import statistics
from studio.archive import chunks_of
from studio.moving import engines, rows
from studio.moving.rows import Count, MoveError
from studio.update import bring_up_to_date

Say = Callable[[str], object]
KEY = "secret_key"
OLD, NEW = "old_house", "new_house"


@dataclass(frozen=True, kw_only=True)
class House:
    """One side: a database, the folder of its files, its data folder."""

    database: dict[str, Any]
    media: Path
    data: Path


@dataclass(frozen=True, kw_only=True)
class Moved:
    """What was carried and compared."""

    tables: dict[str, Count]
    files: int
    bytes: int
    missing: tuple[str, ...]


def move(old: House, new: House, *, say: Say) -> Moved:
    """Carry everything; MoveError, with nothing changed, when the new place is not empty or does not take a row."""
    with engines.opened(OLD, old.database) as source, engines.opened(NEW, new.database) as target:
        engines.refuse_unless_current(source)
        engines.refuse_unless_empty(target)
        _refuse_files(old, new)
        with engines.as_the_site(target):
            bring_up_to_date(say, keep_archive=False)
        found = carry(source, target, say)
        files, size = carry_files(old, new, say)
        with engines.as_the_site(target):
            statistics.refresh()
        return Moved(tables=found, files=files, bytes=size, missing=tuple(sorted(absent(new.media))))


def carry(source: BaseDatabaseWrapper, target: BaseDatabaseWrapper, say: Say) -> dict[str, Count]:
    """Every row and counter, in one transaction on each side; returns what both hold."""
    models = rows.tables()
    with transaction.atomic(using=source.alias), transaction.atomic(using=target.alias):
        engines.clear(target, models)
        found = {model._meta.label: _carry_table(model, source, target) for model in models}
        for model in models:
            _compare(model, found[model._meta.label], target)
        engines.set_counters(target, engines.counters(source))
        target.check_constraints()
    say(f"{len(found)} tables, {sum(each.rows for each in found.values())} rows carried and read back.")
    return found


def _carry_table(model: type[Model], source: BaseDatabaseWrapper, target: BaseDatabaseWrapper) -> Count:
    digest = rows.Digest()

    def counted() -> Iterator[list[Any]]:
        for row in rows.read(model, source.alias):
            digest.add(row)
            yield row

    rows.insert(model, counted(), target, lambda *_: None)
    return digest.count()


def _compare(model: type[Model], wanted: Count, target: BaseDatabaseWrapper) -> None:
    """MoveError unless the table, read back, is what was read in the old place."""
    found = rows.count(model, target.alias)
    if found != wanted:
        raise MoveError(
            f"{model._meta.label}: {wanted.rows} rows (digest {wanted.digest[:16]}) were carried, {found.rows} "
            f"({found.digest[:16]}) were read back. Nothing was changed."
        )


def _refuse_files(old: House, new: House) -> None:
    if new.media.resolve() != old.media.resolve() and new.media.is_dir() and any(_files(new.media)):
        raise MoveError(f"{new.media} holds files already. Moving in replaces nothing. Nothing was changed.")


def _files(folder: Path) -> Iterator[Path]:
    for inside, _, names in os.walk(folder):
        for name in sorted(names):
            path = Path(inside, name)
            if path.is_file() and not path.is_symlink():
                yield path


def _sha(path: Path) -> str:
    digest = hashlib.sha256()
    for chunk in chunks_of(path):
        digest.update(chunk)
    return digest.hexdigest()


def carry_files(old: House, new: House, say: Say) -> tuple[int, int]:
    """Copy every file to the new data folder and compare it there; in the same folder they stay. Number and bytes."""
    number = size = 0
    same = old.media.resolve() == new.media.resolve()
    for path in _files(old.media):
        number, size = number + 1, size + path.stat().st_size
        if not same:
            _copy(path, new.media / path.relative_to(old.media))
    if old.data.resolve() != new.data.resolve() and (old.data / KEY).is_file() and not (new.data / KEY).exists():
        _copy(old.data / KEY, new.data / KEY)  # signed links and sessions go on being valid
    say(f"{number} files, {size >> 10} kB {'stay where they are' if same else 'copied and compared'}.")
    return number, size


def _copy(source: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with open(source, "rb") as given, open(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as copy:
        shutil.copyfileobj(given, copy)
        copy.flush()
        os.fsync(copy.fileno())
    if _sha(source) != _sha(target):
        raise MoveError(f"{target} is not what {source} is, after it was copied. The old place is as it was.")


def absent(media: Path, alias: str = NEW) -> Iterator[str]:
    """Files that a row names and the folder has not."""
    for model in rows.tables():
        for field in rows.columns(model):
            if isinstance(field, FileField):
                named = model._base_manager.using(alias).exclude(**{field.attname: ""}).exclude(**{field.attname: None})
                for name in named.values_list(field.attname, flat=True).iterator(chunk_size=rows.BATCH):
                    if not (media / name).is_file():
                        yield str(name)


def put_away(database: Path) -> Path:
    """Rename a SQLite file that was moved out of, with what SQLite keeps beside it; returns its new name."""
    stamp = f"{dt.datetime.now():%Y-%m-%d-%H%M%S}"
    away = database.with_name(f"{database.stem}-moved-{stamp}{database.suffix}")
    for suffix in ("-wal", "-shm", ""):
        part = database.with_name(database.name + suffix)
        if part.exists():
            part.rename(away.with_name(away.name + suffix))
    return away
