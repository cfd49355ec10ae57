"""A whole programme as plain files in one ZIP, and back into an empty site. docs/open-archive.md says what stands where."""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import os
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from django.apps import apps as installed
from django.conf import settings
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.models import ForeignKey, Model

from studio import statistics
from studio.archive import MEDIA, Archive, Writer, chunks_of, explain, is_packed, is_safe_name
from studio.models import Programme
from studio.moving import engines, rows
from studio.moving.rows import MoveError
from studio.moving.sheets import SOURCES
from studio.update import bring_up_to_date

Say = Callable[[str], object]
KIND, VERSION = "topform programme", 1
TABLES, README = "tables.json", "README.txt"
# What belongs to one machine or one day. Nothing that stays points at these rows.
LEFT_OUT = frozenset({
    "account.EmailConfirmation", "api.Repeat", "auth.Group", "auth.Group_permissions", "auth.Permission",
    "contenttypes.ContentType", "django_tasks_database.DBTaskResult", "sessions.Session", "studio.Housekeeping",
    "studio.KeptFile", "studio.PersonalArchive", "studio.SetupLink", "studio.User_groups",
    "studio.User_user_permissions", "studio.WorkerBeat", "usersessions.UserSession",
})  # fmt: skip
FOLDERS_LEFT_OUT = frozenset({"kept", "personal"})  # files of the rows above
OURS = re.compile(r"(?:README\.txt|tables\.json|tables/\w+\.\w+\.jsonl|musicxml/\w+/[a-z0-9-]+\.musicxml)")
WORDS = """{name}: the whole programme, written by Topform {version}.

tables.json lists every table with its columns; tables/ holds each as JSON lines, one object a row.
musicxml/ holds charts, solos and lines as MusicXML 4.0: copies, an import leaves them aside.
media/ holds the files that were handed in, under the names that the rows give.
manifest.json holds the SHA-256 of every file, manifest.sha256 its own.

It holds personal data, hashed passwords among it: keep it as you keep a backup.
Into an empty site: python3 manage.py import_programme FILE
"""


class OpenArchive(Archive):
    """An open archive, opened for reading."""

    needed = TABLES
    what = "a programme's archive"

    @staticmethod
    def safe(name: str) -> bool:
        return bool(OURS.fullmatch(name)) or (name.startswith(f"{MEDIA}/") and is_safe_name(name))


@contextlib.contextmanager
def _snapshot() -> Iterator[None]:
    """The database as it is at one moment, while the site goes on writing."""
    now = dict(connection.settings_dict)
    if connection.vendor == "sqlite":
        now["OPTIONS"] = now["OPTIONS"] | {"transaction_mode": "DEFERRED"}
    with engines.opened("still", now) as still, engines.as_the_site(still), transaction.atomic():
        if still.vendor == "postgresql":
            with still.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield


def write(path: Path, *, say: Say) -> dict[str, Any]:
    """Write the programme to `path` (which must not exist), read it back, and return its manifest."""
    unfinished = path.with_name(f".{path.name}.unfinished")
    unfinished.unlink(missing_ok=True)
    try:
        with _snapshot():
            _write(unfinished, say)
        with OpenArchive(unfinished) as opened:
            if problems := opened.check():
                raise MoveError(f"It was read back and is not what was written. {explain(path, problems)}")
            manifest = opened.manifest
        unfinished.rename(path)
    finally:
        unfinished.unlink(missing_ok=True)
    return manifest


def _write(path: Path, say: Say) -> None:
    engines.refuse_unless_current(connection)
    writer = Writer(path, lambda _: None)
    try:
        words = WORDS.format(name=Programme.current().name, version=settings.VERSION)
        writer.add(README, [words.encode()], packed=False)
        models = rows.tables(leave_out=LEFT_OUT)
        last, described = engines.counters(connection), {}
        for model in models:
            digest = rows.Digest()
            writer.add(f"tables/{model._meta.label}.jsonl", _lines(model, digest), packed=False)
            described[model._meta.label] = _described(model, digest.count(), last.get(model._meta.db_table, 0))
        writer.add(TABLES, [_json(described, indent=1)], packed=False)
        say(f"{len(models)} tables, {sum(each['rows'] for each in described.values())} rows")
        problems = _write_sheets(writer, say)
        for name, file in _media():
            writer.add(f"{MEDIA}/{name}", chunks_of(file), packed=is_packed(file))
        writer.close({
            "kind": KIND, "kind_version": VERSION, "version": settings.VERSION, "made": dt.datetime.now(dt.UTC).isoformat(),
            "engine": connection.vendor, "migrations": _applied(), "without_sheet": problems,
        })  # fmt: skip
    except BaseException:
        writer.abandon()
        raise


def _json(value: Any, **form: Any) -> bytes:
    return json.dumps(value, ensure_ascii=False, sort_keys=True, **form).encode() + b"\n"


def _lines(model: type[Model], digest: rows.Digest) -> Iterator[bytes]:
    names = [field.attname for field in rows.columns(model)]
    for row in rows.read(model, "default"):
        digest.add(row)
        yield _json(dict(zip(names, rows.same(row), strict=True)))


def _described(model: type[Model], count: rows.Count, last: int) -> dict[str, Any]:
    """What stands in `tables.json` about a table."""
    about = {}
    for field in rows.columns(model):
        about[field.attname] = {"kind": field.get_internal_type(), "null": field.null}
        if isinstance(field, ForeignKey):
            about[field.attname]["points_at"] = field.related_model._meta.label
        if field.max_length:
            about[field.attname]["longest"] = field.max_length
    said = {"about": (model.__doc__ or "").strip().split("\n")[0], "columns": about, "digest": count.digest}
    return said | {"rows": count.rows, "last_key": last}


def _write_sheets(writer: Writer, say: Say) -> dict[str, str]:
    """The apps' MusicXML; returns what has none, with the reason."""
    problems = {}
    for folder, source in sorted(SOURCES.items()):
        number = 0
        for sheet in source():
            name = f"musicxml/{folder}/{sheet.name}.musicxml"
            if sheet.problem:
                problems[name] = sheet.problem
                continue
            writer.add(name, [sheet.content], packed=False)
            number += 1
        say(f"{number} {folder} as MusicXML")
    return problems


def _media() -> Iterator[tuple[str, Path]]:
    """Handed-in files by name, in order."""
    found = {}
    for folder, _, names in os.walk(settings.MEDIA_ROOT):
        for name in names:
            path = Path(folder, name)
            inside = path.relative_to(settings.MEDIA_ROOT)
            if path.is_file() and not path.is_symlink() and inside.parts[0] not in FOLDERS_LEFT_OUT:
                found[inside.as_posix()] = path
    yield from sorted(found.items())


def _applied() -> list[str]:
    executor = MigrationExecutor(connection)
    return sorted(".".join(key) for key in executor.loader.applied_migrations)


def read(path: Path, *, say: Say) -> dict[str, int]:
    """Bring an archive into the site's empty database and empty folder; returns the rows of every table.

    Hold the data folder alone. MoveError or ArchiveError, with nothing changed, when something is not as it should be.
    """
    room = settings.DATA_DIR / f"import-{dt.datetime.now():%Y-%m-%d-%H%M%S-%f}"
    engines.refuse_unless_empty(connection)
    if settings.MEDIA_ROOT.is_dir() and any(settings.MEDIA_ROOT.iterdir()):
        raise MoveError(f"{settings.MEDIA_ROOT} is not empty. An import replaces nothing. Nothing was changed.")
    try:
        with OpenArchive(path) as opened:
            manifest = opened.manifest
            if manifest.get("kind") != KIND or manifest.get("kind_version") != VERSION:
                raise MoveError(f"{path} is no archive of a programme that this version knows.")
            room.mkdir(parents=True, mode=0o700)
            if problems := opened.check(room):
                raise MoveError(explain(path, problems))
        own = connection.settings_dict
        with engines.opened("new_house", own) as target, engines.as_the_site(target):
            apps = _tables_for(path, set(manifest["migrations"]), say)
            found = _load(room, apps)
            bring_up_to_date(say, keep_archive=False)
            statistics.refresh()
    finally:
        shutil.rmtree(room, ignore_errors=True)
    return found


def _tables_for(path: Path, wanted: set[str], say: Say) -> Any:
    """Tables as the archive has them: this program's, or in a database without any those of an older version."""
    executor = MigrationExecutor(connection)
    known = {".".join(key) for key in executor.loader.disk_migrations}
    if unknown := wanted - known:
        raise MoveError(f"{path} was made by a newer version (it has {sorted(unknown)[0]}). Update the program first.")
    if wanted == known:
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            bring_up_to_date(say, keep_archive=False)
        return installed
    if executor.loader.applied_migrations:
        raise MoveError(
            f"{path} was made by an older version. It is brought up to date in a database that has no tables yet; "
            f"{engines.named(connection)} has some. Nothing was changed."
        )
    say("The archive is of an older version: its tables are made first, then brought up to date.")
    nodes = [key for key in executor.loader.disk_migrations if ".".join(key) in wanted]
    inside = {parent for key in nodes for parent in executor.loader.graph.node_map[key].parents}
    last = sorted(key for key in nodes if key not in inside)
    executor.migrate(last)
    return MigrationExecutor(connection).loader.project_state(last).apps


def _load(room: Path, apps: Any) -> dict[str, int]:
    """Every table and file, all or nothing."""
    described = json.loads((room / TABLES).read_text(encoding="utf-8"))
    models = {model._meta.label: model for model in rows.tables(apps, LEFT_OUT)}
    if strange := set(described) ^ set(models):
        raise MoveError(f"{TABLES} does not list the tables of its version ({sorted(strange)[0]}).")
    found = {}
    with transaction.atomic():
        engines.clear(connection, rows.tables(apps))
        for label, model in models.items():
            _refuse_columns(model, described[label])
            found[label] = rows.insert(model, _rows(room, model), connection, lambda *_: None)
            held = rows.count(model, "default")
            if (held.rows, held.digest) != (described[label]["rows"], described[label]["digest"]):
                raise MoveError(f"{label}: what was read back is not what {TABLES} says. Nothing was changed.")
        last = {models[label]._meta.db_table: about["last_key"] for label, about in described.items()}
        engines.set_counters(connection, last, apps)
        connection.check_constraints()
        _carry_media(room / MEDIA)
    return found


def _refuse_columns(model: type[Model], about: dict[str, Any]) -> None:
    own = {field.attname for field in rows.columns(model)}
    if strange := own ^ set(about["columns"]):
        raise MoveError(f"{model._meta.label}: its columns are not those of its version ({sorted(strange)[0]}).")


def _rows(room: Path, model: type[Model]) -> Iterator[list[Any]]:
    names = [field.attname for field in rows.columns(model)]
    with open(room / "tables" / f"{model._meta.label}.jsonl", encoding="utf-8") as lines:
        for number, line in enumerate(lines, 1):
            try:
                row = json.loads(line)
                yield [row[name] for name in names]
            except (ValueError, KeyError, TypeError) as error:
                raise MoveError(f"tables/{model._meta.label}.jsonl, line {number} cannot be read ({error}).") from error


def _carry_media(source: Path) -> None:
    """Into the empty folder of files; what was begun is taken back when it fails."""
    settings.MEDIA_ROOT.mkdir(parents=True, exist_ok=True, mode=0o700)
    if not source.is_dir():
        return
    try:
        for part in sorted(source.iterdir()):
            shutil.move(part, settings.MEDIA_ROOT / part.name)
    except OSError:
        for part in settings.MEDIA_ROOT.iterdir():
            shutil.rmtree(part) if part.is_dir() else part.unlink()
        raise
