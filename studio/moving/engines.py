"""The two sides of a move: databases opened beside the site's own, what an empty one is, and the counters of keys."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.apps import apps
from django.db import DatabaseError, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.models import AutoField, BigAutoField, Model
from django.db.utils import load_backend

from studio import databases
from studio.moving.rows import MoveError, tables

# Nothing of a programme can exist without one of these.
OF_A_PROGRAMME = ("studio.User", "studio.Programme", "studio.Term", "tunes.Tune", "tunes.Idiom")

_EMPTY = {
    "sqlite": "name an empty data folder (TOPFORM_DATA, or --to of move)",
    "postgresql": "createdb makes an empty one, and TOPFORM_DB_NAME names it",
}


def sqlite_of(folder: Path) -> dict[str, Any]:
    """The database of a data folder."""
    return databases.sqlite(folder / "topform.sqlite3")


def without_limits(configuration: dict[str, Any]) -> dict[str, Any]:
    """The same database by one connection of its own, whose statements may take their time: a move reads whole tables."""
    options = {name: value for name, value in configuration.get("OPTIONS", {}).items() if name != "pool"}
    if configuration["ENGINE"].endswith("postgresql"):
        options["options"] = "-c lock_timeout=5000"
    return configuration | {"OPTIONS": options}


@contextlib.contextmanager
def opened(alias: str, configuration: dict[str, Any]) -> Iterator[BaseDatabaseWrapper]:
    """A database under a name of its own, for as long as this lasts; MoveError when it does not answer."""
    filled = connections.configure_settings({"default": without_limits(configuration)})["default"]
    connection: BaseDatabaseWrapper = load_backend(filled["ENGINE"]).DatabaseWrapper(filled, alias)
    try:
        connection.ensure_connection()
    except DatabaseError as error:
        raise MoveError(f"{named(connection)} cannot be opened: {str(error).strip().splitlines()[0]}") from error
    connections.settings[alias], connections[alias] = filled, connection
    try:
        yield connection
    finally:
        connection.close()
        del connections[alias]
        del connections.settings[alias]


@contextlib.contextmanager
def as_the_site(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """Whatever works with the site's database works with this one, migrations too."""
    own = connections["default"]
    connections["default"] = connection
    try:
        yield
    finally:
        connections["default"] = own


def named(connection: BaseDatabaseWrapper) -> str:
    """A database in words: its file, or its name and machine."""
    given = connection.settings_dict
    if connection.vendor == "sqlite":
        return str(given["NAME"])
    return f"the PostgreSQL database {given['NAME']} at {given['HOST'] or 'this machine'}"


def refuse_unless_current(connection: BaseDatabaseWrapper) -> None:
    """MoveError unless the database has exactly the migrations of this program."""
    executor = MigrationExecutor(connection)
    applied = set(executor.loader.applied_migrations)
    if not applied:
        raise MoveError(f"{named(connection)} holds no programme.")
    pending = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if pending or applied - set(executor.loader.disk_migrations):
        raise MoveError(
            f"{named(connection)} is of another version than this program: start the site on it once, or update. "
            "Nothing was changed."
        )


def refuse_unless_empty(connection: BaseDatabaseWrapper) -> None:
    """MoveError when anything of a programme is there. No tables at all, or those of a site never set up, are empty."""
    there = set(connection.introspection.table_names())
    for label in OF_A_PROGRAMME:
        model = apps.get_model(label)
        if model._meta.db_table in there and (held := _rows(model, connection)):
            raise MoveError(
                f"{named(connection)} is not empty ({held} rows in {label}). Moving in replaces nothing, and nothing was "
                f"changed: {_EMPTY[connection.vendor]}."
            )


def _rows(model: type[Model], connection: BaseDatabaseWrapper) -> int:
    """Counted by name of the table: an older one may lack columns."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT COUNT(*) FROM {connection.ops.quote_name(model._meta.db_table)}")
        return int(cursor.fetchone()[0])


def clear(connection: BaseDatabaseWrapper, models: list[type[Model]]) -> None:
    """Take away the rows that migrations and a first start put into an empty site."""
    with connection.cursor() as cursor:
        for model in models:
            cursor.execute(f"DELETE FROM {connection.ops.quote_name(model._meta.db_table)}")


def counters(connection: BaseDatabaseWrapper, apps: Any = apps) -> dict[str, int]:
    """By table the highest key that was ever given, also of rows that are deleted: keys are never given twice."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, seq FROM sqlite_sequence")
            return {str(name): int(number) for name, number in cursor.fetchall()}
        found = {}
        for model in _numbered(apps):
            table, column = model._meta.db_table, model._meta.pk.column
            cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [connection.ops.quote_name(table), column])
            cursor.execute(f"SELECT last_value, is_called FROM {cursor.fetchone()[0]}")
            last, called = cursor.fetchone()
            found[table] = int(last) if called else int(last) - 1
        return found


def set_counters(connection: BaseDatabaseWrapper, wanted: dict[str, int], apps: Any = apps) -> None:
    """Go on counting where the other side stood; never below a key that is there."""
    with connection.cursor() as cursor:
        for model in _numbered(apps):
            table, column = model._meta.db_table, str(model._meta.pk.column)
            cursor.execute(f"SELECT MAX({connection.ops.quote_name(column)}) FROM {connection.ops.quote_name(table)}")
            last = max(cursor.fetchone()[0] or 0, wanted.get(table, 0))
            if connection.vendor == "sqlite":
                cursor.execute("DELETE FROM sqlite_sequence WHERE name = %s", [table])
                cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table, last])
            else:
                cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [connection.ops.quote_name(table), column])
                sequence = cursor.fetchone()[0]
                cursor.execute("SELECT setval(%s, %s, %s)", [sequence, max(last, 1), last > 0])


def _numbered(apps: Any) -> list[type[Model]]:
    return [model for model in tables(apps) if isinstance(model._meta.pk, AutoField | BigAutoField)]
