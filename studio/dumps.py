"""The database as one file, and back: SQLite through its backup interface, PostgreSQL through its own programs.

A plain copy of a SQLite database in use loses committed rows and still looks sound: its file is read while it is held
still (`studio.held`), and where that cannot be a snapshot lies on the disk while it is packed. PostgreSQL's dump goes into
the archive as it comes.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from django.db import connection

from studio.archive import CHUNK, chunks_of
from studio.held import NotHeld, content_of, held_still


class BackupError(Exception):
    """The backup cannot be made or put back; the message says why, and that nothing was changed."""


class BackupBusy(BackupError):
    """Another backup is being written to the same folder."""


def database_chunks(room: Path) -> Iterator[bytes]:
    """The content of the database as it is now; `room` is a folder for what must lie on the disk meanwhile."""
    if connection.vendor != "sqlite":
        yield from _pg_dump()
        return
    live = Path(connection.settings_dict["NAME"])
    try:
        with held_still(live) as reader:
            check_opened(reader, f"The database {live}")
            yield from content_of(live)
    except NotHeld:
        snapshot = room / "snapshot"
        copy_sqlite(live, snapshot)
        yield from chunks_of(snapshot)
        snapshot.unlink()
    except sqlite3.DatabaseError as error:
        raise BackupError(f"The database {live} cannot be read ({error}). Nothing was changed.") from error


def database_size() -> int:
    """About how many bytes the database has, for showing how far a backup is."""
    if connection.vendor == "sqlite":
        path = Path(connection.settings_dict["NAME"])
        return path.stat().st_size if path.exists() else 0
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_database_size(current_database())")
        return int(cursor.fetchone()[0])


def copy_sqlite(live: Path, target: Path) -> None:
    """A consistent copy while others write; BackupError when what was copied is damaged."""
    with closing(sqlite3.connect(f"file:{live}?mode=ro", uri=True)) as source, closing(sqlite3.connect(target)) as copy:
        source.backup(copy)
    os.chmod(target, 0o600)
    check_sqlite(target, f"The database {live}")


def check_sqlite(path: Path, what: str) -> None:
    """BackupError when the file is no sound SQLite database."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro&immutable=1", uri=True)) as opened:
        check_opened(opened, what)


def check_opened(opened: sqlite3.Connection, what: str) -> None:
    """The same of a database that is open."""
    try:
        found = [row[0] for row in opened.execute("PRAGMA quick_check(3)")]
    except sqlite3.DatabaseError as error:
        raise BackupError(f"{what} cannot be read ({error}). Nothing was changed.") from error
    if found != ["ok"]:
        raise BackupError(f"{what} is damaged ({'; '.join(found)}). Nothing was changed.")


def _surroundings(program: str) -> dict[str, str]:
    if not shutil.which(program):
        raise BackupError(f"{program} was not found; install PostgreSQL's client programs (Debian: postgresql-client).")
    given = connection.settings_dict
    names = {"PGHOST": "HOST", "PGPORT": "PORT", "PGUSER": "USER", "PGPASSWORD": "PASSWORD", "PGDATABASE": "NAME"}
    return dict(os.environ) | {variable: str(given[key]) for variable, key in names.items() if given[key]}


def _pg_dump() -> Iterator[bytes]:
    command = ["pg_dump", "--format=custom", "--no-owner"]
    with tempfile.TemporaryFile() as said:
        with subprocess.Popen(command, env=_surroundings("pg_dump"), stdout=subprocess.PIPE, stderr=said) as process:
            assert process.stdout
            while chunk := process.stdout.read(CHUNK):
                yield chunk
        said.seek(0)
        _complain("pg_dump", process.returncode, said.read().decode(errors="replace"))


def dump_to(target: Path) -> None:
    """PostgreSQL's database as one file of `pg_dump`."""
    with open(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        for chunk in _pg_dump():
            out.write(chunk)
        out.flush()
        os.fsync(out.fileno())


def put_dump(source: Path) -> None:
    """Replace PostgreSQL's database by a dump, all or nothing."""
    command = [
        "pg_restore",
        "--dbname",
        connection.settings_dict["NAME"],
        "--clean",
        "--if-exists",
        "--no-owner",
        "--single-transaction",
        str(source),
    ]
    done = subprocess.run(command, env=_surroundings("pg_restore"), capture_output=True, text=True)
    _complain("pg_restore", done.returncode, done.stderr)


def _complain(program: str, code: int, said: str) -> None:
    if code:
        lines = said.strip().splitlines()
        raise BackupError(f"{program} failed: {lines[-1] if lines else code}")


def refuse_other_connections(patience: float = 5.0) -> None:
    """BackupError while anybody else is connected to PostgreSQL's database, from whatever machine."""
    if connection.vendor == "sqlite":
        return
    import psycopg

    connection.close()
    connection.close_pool()  # type: ignore[attr-defined]
    wanted = {
        key: value
        for key, value in connection.get_connection_params().items()
        if key in {"dbname", "host", "port", "user", "password", "sslmode"}
    }
    until = time.monotonic() + patience
    with psycopg.connect(**wanted) as own:
        while found := own.execute(OTHERS).fetchall():
            if time.monotonic() > until:
                names = ", ".join(
                    f"{name or 'unnamed'} from {address or 'this machine'}" for name, address in found[:4]
                )
                raise BackupError(
                    f"{len(found)} others are connected to the database ({names}). Stop them first: "
                    "a restore needs it alone. Nothing was changed."
                )
            time.sleep(0.2)


OTHERS = """
    SELECT application_name, client_addr::text FROM pg_stat_activity
    WHERE datname = current_database() AND pid <> pg_backend_pid() AND backend_type = 'client backend'
"""
