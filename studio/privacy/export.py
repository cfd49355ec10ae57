"""All that the site holds about one person, as one ZIP of readable JSON and the files that they sent."""

from __future__ import annotations

import datetime as dt
import json
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

from django.core.files import File
from django.db import models, transaction
from django.urls import reverse
from django.utils import timezone

from studio.audit import record
from studio.jobs import JobError, Progress, handler, start_job
from studio.middleware import programme_zone
from studio.models import AuditEntry, Job, PersonalArchive, Programme, User
from studio.notices import notify
from studio.privacy.declared import TABLE, Declared

LIFETIME = dt.timedelta(days=7)
KIND = "personal-archive"
README = """{programme}: what is kept about {name}
Made on {made}. It can be fetched until {expires}.

account.json holds the account; every other .json is one list, the newest last, with a column for each thing kept.
Files that were sent lie in files/ and are named in the lists. Times are in {zone}.
Marks and answers that are not out yet are left out; ask for the archive again when they are.
"""


def begin(*, about: User, by: User) -> Job:
    """Have the archive made by the worker."""
    with transaction.atomic():
        record(AuditEntry.Kind.EXPORT, "Archive of a person's data asked for", by=by, about=about)
        return start_job(by, KIND, {"about": about.pk})


@handler(KIND)
def make(progress: Progress) -> dict[str, Any]:
    """Write the archive; an earlier one of the same people goes."""
    about = User.objects.filter(pk=progress.payload["about"], erased=None).first()
    if about is None or progress.owner is None:
        raise JobError("This person is not here any more.")
    own = about.pk == progress.owner.pk
    with tempfile.TemporaryFile() as room:
        zone = programme_zone(Programme.current().time_zone)
        with zipfile.ZipFile(room, "w", zipfile.ZIP_DEFLATED) as archive, timezone.override(zone):
            write(archive, about, progress.step)
        row = PersonalArchive(about=about, by=progress.owner, size=room.seek(0, 2), expires=timezone.now() + LIFETIME)
        room.seek(0)
        with transaction.atomic():
            _drop(PersonalArchive.objects.filter(about=about, by=progress.owner))
            row.file.save("archive", File(room), save=False)
            row.save()
            if not own:
                notify(about, "house", "A director had an archive of your data made.", reverse("studio:own_data"))
    return {"next": reverse("studio:own_data") if own else reverse("studio:person_data", args=[about.pk])}


def write(archive: zipfile.ZipFile, person: User, step: Callable[..., None] = lambda *_: None) -> None:
    """Everything into an open ZIP."""
    now = timezone.localtime()
    archive.writestr(
        "README.txt",
        README.format(
            programme=Programme.current().name,
            name=person.name,
            made=f"{now:%-d %B %Y, %H:%M}",
            expires=f"{now + LIFETIME:%-d %B %Y}",
            zone=timezone.get_current_timezone_name(),
        ),
    )
    archive.writestr("account.json", _json(_account(person)))
    rows = [row for row in TABLE if row.export]
    for number, row in enumerate(rows, 1):
        step(number, len(rows), row.export)
        if found := list(_dicts(row, person, archive)):
            archive.writestr(f"{row.export}.json", _json(found))


def _account(person: User) -> dict[str, Any]:
    names = (
        "name",
        "email",
        "school_id",
        "instrument",
        "theme",
        "wants_digest",
        "created",
        "last_login",
        "is_director",
    )
    return {name: _plain(getattr(person, name)) for name in names}


def _dicts(row: Declared, person: User, archive: zipfile.ZipFile) -> Iterator[dict[str, Any]]:
    columns = [f for f in row.table._meta.concrete_fields if f.name not in (row.field, *row.leaves_out)]
    links = [f.name for f in columns if f.is_relation]
    rows = row.shows(row.rows(person), person).order_by("pk")
    for found in rows.select_related(*links) if links else rows:
        yield {column.name: _value(found, column, archive, row.export) for column in columns}


def _value(found: models.Model, column: Any, archive: zipfile.ZipFile, folder: str) -> Any:
    value = getattr(found, column.name)
    if isinstance(column, models.FileField):
        return _file(value, archive, f"files/{folder}-{found.pk}", found) if value else None
    if column.is_relation:
        return None if value is None else {"id": value.pk, "name": _said(value)}
    if column.choices and value not in (None, ""):
        return str(getattr(found, f"get_{column.name}_display")())
    return _plain(value)


def _said(value: Any) -> str:
    """A link in words: people by name alone."""
    return value.name if isinstance(value, User) else str(value)


def _file(file: Any, archive: zipfile.ZipFile, stem: str, found: Any) -> str | None:
    if not file.storage.exists(file.name):
        return None
    ending = str(getattr(found, "name", "") or "").rpartition(".")[2].lower()
    name = f"{stem}.{ending}" if ending.isascii() and ending.isalnum() and len(ending) < 6 else stem
    with file.open("rb") as source, archive.open(name, "w", force_zip64=True) as target:
        for chunk in iter(lambda: source.read(1 << 20), b""):
            target.write(chunk)
    return name


def _plain(value: Any) -> Any:
    if isinstance(value, dt.datetime):
        return timezone.localtime(value).isoformat(timespec="seconds")
    return value if value is None or isinstance(value, str | int | float | bool | list | dict) else str(value)


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, indent=1)


def clear_old(now: dt.datetime) -> int:
    """Delete archives past their day; returns how many."""
    with transaction.atomic():
        return _drop(PersonalArchive.objects.filter(expires__lt=now))


def _drop(rows: Any) -> int:
    """The rows now, the files when the transaction holds."""
    found = list(rows)
    for row in found:
        storage, name = row.file.storage, row.file.name or ""
        transaction.on_commit(partial(storage.delete, name))
        row.delete()
    return len(found)
