"""In what state the site is: one table for `/readyz` and for the director's page."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Iterator
from dataclasses import dataclass

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from studio import env, space
from studio.models import Housekeeping, WorkerBeat
from studio.retention import Keep

WORKER_SILENCE = dt.timedelta(seconds=90)
OLDEST_BACKUP = dt.timedelta(hours=26)
OK, DEGRADED, DOWN = "ok", "degraded", "down"


@dataclass(frozen=True)
class Check:
    """One thing looked at: its name, a word or the reason, and how bad that is."""

    name: str
    word: str
    state: str = OK


def checks() -> list[Check]:
    """Everything that is looked at, the vital things first. Never raises for a database or a disk that is away."""
    found = [_database(), _files(), _disk()]
    if found[0].state == DOWN:
        return [*found, *(Check(name, "unknown", DEGRADED) for name in ("worker", "backup", "mail"))]
    rows = {row.name: row for row in Housekeeping.objects.all()}
    known = {"backup", "second place", "mail", "letters"}
    return [*found, _worker(), _backup(rows), _mail(rows), *_others(rows, known)]


def overall(found: list[Check]) -> str:
    """The worst of all."""
    states = {check.state for check in found}
    return next((state for state in (DOWN, DEGRADED) if state in states), OK)


def _database() -> Check:
    try:
        executor = MigrationExecutor(connection)
        behind = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return Check("database", "cannot be reached", DOWN)
    return Check("database", "migrations are pending", DOWN) if behind else Check("database", "ok")


def _files() -> Check:
    folder = settings.MEDIA_ROOT if settings.MEDIA_ROOT.exists() else settings.MEDIA_ROOT.parent
    return Check("files", "ok") if os.access(folder, os.W_OK) else Check("files", "folder is not writable", DOWN)


def _disk() -> Check:
    free, line = space.least_free(), space.warning_line()
    if free < 1 << 20 and not (settings.DATA_DIR / "reserve").exists():
        return Check("disk", f"full: {free} bytes free", DOWN)
    if free < line:
        return Check("disk", f"nearly full: {free >> 20} MB free", DEGRADED)
    return Check("disk", "ok")


def _worker() -> Check:
    last = WorkerBeat.objects.order_by("-at").values_list("at", flat=True).first()
    if last is None:
        return Check("worker", "never seen", DEGRADED)
    if timezone.now() - last < WORKER_SILENCE:
        return Check("worker", "ok")
    return Check("worker", f"silent since {_time(last)}", DEGRADED)


def _time(when: dt.datetime) -> str:
    return f"{when.astimezone(dt.UTC):%Y-%m-%d %H:%M:%S} UTC"


def _failure(row: Housekeeping | None) -> str:
    """Since when a part fails, without its reason: whoever asks `/readyz` may be anybody."""
    return f"failed since {_time(row.failed)}" if row and row.failed else ""


def _backup(rows: dict[str, Housekeeping]) -> Check:
    if not Keep.from_environment():
        return Check("backup", "off: TOPFORM_BACKUP_KEEP is not set")
    row = rows.get("backup")
    if failure := _failure(row):
        return Check("backup", failure, DEGRADED)
    if row is None or row.done is None:
        return Check("backup", "none yet", DEGRADED)
    if timezone.now() - row.done > OLDEST_BACKUP:
        return Check("backup", f"old: the last is of {_time(row.done)}", DEGRADED)
    if env.text("TOPFORM_BACKUP_TO") and (failure := _failure(rows.get("second place"))):
        return Check("backup", f"the second place {failure}", DEGRADED)
    return Check("backup", "ok")


def _mail(rows: dict[str, Housekeeping]) -> Check:
    if not settings.EMAIL_HOST:
        return Check("mail", "off: no mail server is set, letters are files in the data folder")
    for name in ("mail", "letters"):
        if failure := _failure(rows.get(name)):
            return Check("mail", f"not going out: {failure}", DEGRADED)
    return Check("mail", "ok")


def _others(rows: dict[str, Housekeeping], known: set[str]) -> Iterator[Check]:
    for name in sorted(set(rows) - known):
        if failure := _failure(rows[name]):
            yield Check(name, failure, DEGRADED)
