"""Tables as both databases hold them: one form for every value, a digest for every table, rows in and out.

A value is written as JSON knows it: numbers, text, true, false, null; times as ISO 8601 in UTC with microseconds, days as
ISO 8601, UUIDs as text, JSON columns as they are. The digest of a table is the sum of the SHA-256 (FIPS 180-4) of its
rows modulo 2^256: it needs no order, and databases sort text differently.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import uuid
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.apps import apps as installed
from django.core.exceptions import ValidationError
from django.db import Error, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Field, JSONField, Model

BATCH = 1000  # rows that are read or written at once
Told = Callable[[str, int], object]  # a table, and how many rows of it are through


class MoveError(Exception):
    """Something cannot be moved; the message says which row of which table, and that nothing was changed."""


@dataclass(frozen=True)
class Count:
    """What a table holds: how many rows, and their digest."""

    rows: int
    digest: str


def tables(apps: Any = installed, leave_out: frozenset[str] = frozenset()) -> list[type[Model]]:
    """Every table that models stand for, those between two models included, by name."""
    found = [
        model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy and model._meta.label not in leave_out
    ]
    return sorted(found, key=lambda model: model._meta.label)


def columns(model: type[Model]) -> list[Field[Any, Any]]:
    return list(model._meta.local_concrete_fields)


def plain(value: Any) -> Any:
    """A value as JSON knows it.

    >>> plain(dt.datetime(2026, 3, 1, 18, 0, tzinfo=dt.UTC)), plain(dt.date(2026, 3, 1))
    ('2026-03-01T18:00:00.000000Z', '2026-03-01')
    """
    if isinstance(value, dt.datetime):
        return f"{value.astimezone(dt.UTC).replace(tzinfo=None).isoformat(timespec='microseconds')}Z"
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, uuid.UUID):
        return str(value)
    return value


def read(model: type[Model], alias: str) -> Iterator[list[Any]]:
    """Every row of a table in the order of its key, its values as JSON knows them."""
    names = [field.attname for field in columns(model)]
    rows = model._base_manager.using(alias).order_by("pk").values_list(*names)
    for row in rows.iterator(chunk_size=BATCH):
        yield [plain(value) for value in row]


def same(value: Any) -> Any:
    """What both databases give back alike: PostgreSQL's JSON knows no -0.0, and writes 1e22 as its decimal digits.

    >>> same([2.0, -0.0, 0.5, 1e22]), same(2**63 - 1)
    ([2, 0, 0.5, 10000000000000000000000], 9223372036854775807)
    """
    if isinstance(value, float) and value.is_integer():
        return int(Decimal(repr(value)))
    if isinstance(value, dict):
        return {name: same(part) for name, part in value.items()}
    return [same(part) for part in value] if isinstance(value, list) else value


class Digest:
    """Counts rows and adds their digests."""

    def __init__(self) -> None:
        self._rows, self._sum = 0, 0

    def add(self, row: list[Any]) -> None:
        text = json.dumps(same(row), sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        self._sum += int.from_bytes(hashlib.sha256(text.encode()).digest(), "big")
        self._rows += 1

    def count(self) -> Count:
        return Count(self._rows, f"{self._sum % 2**256:064x}")


def count(model: type[Model], alias: str) -> Count:
    """Rows and digest of a table as it stands."""
    digest = Digest()
    for row in read(model, alias):
        digest.add(row)
    return digest.count()


def insert(model: type[Model], rows: Iterable[list[Any]], connection: BaseDatabaseWrapper, told: Told) -> int:
    """Write rows as they are, keys included; past `save`, so that append-only tables take them and no date is set anew."""
    fields = columns(model)
    quote = connection.ops.quote_name
    names = ", ".join(quote(field.column or "") for field in fields)
    sql = f"INSERT INTO {quote(model._meta.db_table)} ({names}) VALUES ({', '.join(['%s'] * len(fields))})"
    done, batch = 0, []
    for row in rows:
        batch.append((row, [_stored(field, value, connection) for field, value in zip(fields, row, strict=True)]))
        if len(batch) == BATCH:
            done += _write(model, sql, batch, connection)
            told(model._meta.label, done)
            batch = []
    done += _write(model, sql, batch, connection)
    told(model._meta.label, done)
    return done


def _stored(field: Field[Any, Any], value: Any, connection: BaseDatabaseWrapper) -> Any:
    """A value of JSON as this database takes it."""
    try:
        if isinstance(field, JSONField):
            if value is None and field.null:
                return None
            return field.get_db_prep_value(value, connection)
        return field.get_db_prep_save(field.to_python(value), connection)
    except (ValidationError, ValueError, TypeError) as error:
        raise MoveError(f"{field.model._meta.label}.{field.name} cannot be {value!r}. Nothing was changed.") from error


def _write(
    model: type[Model], sql: str, batch: list[tuple[list[Any], list[Any]]], connection: BaseDatabaseWrapper
) -> int:
    if not batch:
        return 0
    try:
        with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
            cursor.executemany(sql, [values for _, values in batch])
    except (Error, ValueError) as error:
        raise MoveError(_which(model, sql, batch, connection) or f"{model._meta.label}: {_line(error)}") from error
    return len(batch)


def _which(
    model: type[Model], sql: str, batch: list[tuple[list[Any], list[Any]]], connection: BaseDatabaseWrapper
) -> str:
    """The one row of a batch that the database does not take, in words; "" when each is taken alone."""
    for row, values in batch:
        try:
            with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
                cursor.execute(sql, values)
        except (Error, ValueError) as error:
            return (
                f"{model._meta.label} {row[0]} ({_too_long(model, row) or _line(error)}): this row is not taken. "
                "Correct it in the old place; nothing was changed."
            )
    return ""


def _too_long(model: type[Model], row: list[Any]) -> str:
    """SQLite takes text of any length, PostgreSQL none that is longer than its column."""
    for field, value in zip(columns(model), row, strict=True):
        if isinstance(value, str) and field.max_length and len(value) > field.max_length:
            return f"{field.name} has {len(value)} characters, {field.max_length} fit"
        if isinstance(value, str) and "\x00" in value:
            return f"{field.name} holds a zero byte, which PostgreSQL does not take"
    return ""


def _line(error: BaseException) -> str:
    return (str(error).strip() or type(error).__name__).splitlines()[0]
