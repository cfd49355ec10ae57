"""A SQLite database in use, held still and read as a file: a backup needs no second copy of it on the disk.

A plain copy of a database in use loses what stands in its log and is torn where a checkpoint writes meanwhile. Here the
log is first brought into the file, to its last frame, while nobody may write; then a reader begins. As long as that reader
lasts nobody writes to the file: a checkpoint goes no further than the oldest reader ("WAL-mode File Format", on locks and
marks of readers, sqlite.org/walformat.html). Others go on writing, into the log, which grows until the end.

The file is read by a process of its own. Closing a file gives up every POSIX lock that the process holds on it, those of
its database connections too ("How To Corrupt An SQLite Database File", on advisory locks, sqlite.org/howtocorrupt.html).
"""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from studio.archive import CHUNK

TRIES, PAUSE = 20, 0.1  # of bringing the log in: somebody may still be reading an older state
PATIENCE = 2.0  # seconds to wait for those who write
READER = """
import shutil, sys
with open(sys.argv[1], "rb") as file:
    shutil.copyfileobj(file, sys.stdout.buffer, int(sys.argv[2]))
"""


class NotHeld(Exception):
    """The database cannot be held still now: another way of copying it is needed."""


@contextmanager
def held_still(path: Path) -> Iterator[sqlite3.Connection]:
    """The database file does not change inside; yields the connection that sees exactly what the file holds.

    NotHeld where it cannot be: a database without a log, Windows (which locks parts of the file against readers too), or
    somebody who has been reading an older state, or writing, for seconds.
    """
    if os.name == "nt":
        raise NotHeld("the system keeps others from reading a database in use")
    with closing(_opened(path)) as reader, closing(_opened(path)) as gate:
        if reader.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
            raise NotHeld("the database has no log")
        for _ in range(TRIES):
            if _begun(reader, gate):
                yield reader
                return
            time.sleep(PAUSE)
    raise NotHeld("somebody reads an older state of the database")


def _opened(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"file:{path}?mode=rw", uri=True, isolation_level=None, timeout=PATIENCE)


def _begun(reader: sqlite3.Connection, gate: sqlite3.Connection) -> bool:
    """Begin to read when all of the log is in the file; False while an older reader keeps a part of it out, or another
    checkpoint is under way (which would go on writing to the file: its numbers are then -1 and -1)."""
    reader.execute("PRAGMA wal_checkpoint(PASSIVE)")  # most of it, without keeping anybody waiting
    try:
        gate.execute("BEGIN IMMEDIATE")  # nobody writes now
    except sqlite3.OperationalError as error:
        raise NotHeld(f"others write without a pause ({error})") from error
    try:
        busy, frames, brought_in = reader.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
        if busy or frames < 0 or frames != brought_in:
            return False
        reader.execute("BEGIN")
        reader.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone()
        return True
    finally:
        gate.execute("ROLLBACK")


def content_of(path: Path) -> Iterator[bytes]:
    """The file's bytes as another process reads them. OSError when that fails or the file has changed meanwhile."""
    command = [sys.executable, "-I", "-S", "-c", READER, str(path), str(CHUNK)]
    before = path.stat()
    size = before.st_size
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout
        assert process.stderr
        try:
            while chunk := process.stdout.read(CHUNK):
                size -= len(chunk)
                yield chunk
        except GeneratorExit:  # who reads has stopped
            process.kill()
            raise
        said = process.stderr.read().decode(errors="replace").strip()
    if process.returncode or size > 0:
        raise OSError(f"{path} could not be read to its end: {said or f'{size} bytes are missing'}")
    if size or path.stat().st_mtime_ns != before.st_mtime_ns:
        raise OSError(f"{path} changed while it was read.")
