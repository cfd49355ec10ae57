"""A SQLite database in use is read as a file: it stays as it was meanwhile, and nobody else is hurt."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path

import pytest

from studio import held
from studio.held import NotHeld, content_of, held_still


@pytest.fixture
def live(tmp_path: Path) -> Path:
    path = tmp_path / "live"
    with closing(opened(path)) as db:
        db.execute("PRAGMA journal_mode=WAL")
        db.execute("CREATE TABLE pair (n INTEGER, half TEXT, filling BLOB)")
    return path


def opened(path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(path, isolation_level=None, timeout=30)
    db.execute("PRAGMA synchronous=OFF")
    return db


def add(db: sqlite3.Connection, n: int) -> None:
    """Two rows that belong together, large enough to need many pages."""
    db.execute("BEGIN IMMEDIATE")
    for half in ("left", "right"):
        db.execute("INSERT INTO pair VALUES (?, ?, randomblob(9000))", [n, half])
    db.execute("COMMIT")


def pairs(path: Path) -> list[tuple[int, int]]:
    """Each number with how many of its rows a sound database file has."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro&immutable=1", uri=True)) as copy:
        assert copy.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return copy.execute("SELECT n, COUNT(*) FROM pair GROUP BY n ORDER BY n").fetchall()


def test_what_is_held_does_not_change_while_others_write_and_empty_the_log(live: Path) -> None:
    with closing(opened(live)) as other:
        add(other, 1)
        with held_still(live) as reader:
            before = b"".join(content_of(live))
            for n in range(2, 12):
                add(other, n)
                for how in ("PASSIVE", "FULL", "RESTART", "TRUNCATE") if n == 11 else ("PASSIVE",):
                    other.execute("PRAGMA busy_timeout=20")
                    other.execute(f"PRAGMA wal_checkpoint({how})")
            assert b"".join(content_of(live)) == before
            assert reader.execute("SELECT COUNT(*) FROM pair").fetchone() == (2,)
        other.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        assert b"".join(content_of(live)) != before  # so it could have changed
        assert other.execute("SELECT COUNT(*) FROM pair").fetchone() == (22,)


def test_copies_taken_under_writes_hold_whole_pairs_and_all_that_was_written_before(
    live: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(held, "PATIENCE", 30.0)  # however slow the machine is
    monkeypatch.setattr(held, "TRIES", 300)
    written, stop, begun = [0], threading.Event(), threading.Event()

    def write() -> None:
        with closing(opened(live)) as db:
            while not stop.wait(0.003):
                add(db, written[0] + 1)
                written[0] += 1
                begun.set()
                if written[0] % 7 == 0:
                    db.execute("PRAGMA wal_checkpoint(PASSIVE)")

    writer = threading.Thread(target=write)
    writer.start()
    try:
        assert begun.wait(10)
        for number in range(4):
            least, copy = written[0], tmp_path / f"copy-{number}"
            with held_still(live):
                copy.write_bytes(b"".join(content_of(live)))
            found = pairs(copy)
            assert {rows for _, rows in found} == {2}
            assert [n for n, _ in found] == list(range(1, len(found) + 1))
            assert len(found) >= least
    finally:
        stop.set()
        writer.join()


def test_reading_the_file_leaves_the_locks_of_this_process_alone(live: Path) -> None:
    """With them gone, who opens and closes the database elsewhere believes to be the last and removes the log."""
    with closing(opened(live)) as db:
        add(db, 1)
        assert Path(f"{live}-wal").stat().st_size
        assert sum(len(chunk) for chunk in content_of(live))
        visit = "import sqlite3, sys; db = sqlite3.connect(sys.argv[1]); db.execute('SELECT * FROM pair'); db.close()"
        subprocess.run([sys.executable, "-c", visit, str(live)], check=True)
        assert Path(f"{live}-wal").stat().st_size
        add(db, 2)
    assert pairs(live) == [(1, 2), (2, 2)]


def test_what_cannot_be_held_says_so(live: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(held, "TRIES", 2)
    monkeypatch.setattr(held, "PATIENCE", 0.01)

    def refused(path: Path) -> str:
        with pytest.raises(NotHeld) as told, held_still(path):
            pass
        return str(told.value)

    with closing(opened(live)) as old, closing(opened(live)) as other:
        old.execute("BEGIN")
        old.execute("SELECT * FROM pair").fetchall()
        add(other, 1)
        assert "older state" in refused(live)
    with held_still(live) as reader:  # as soon as the old reader has gone
        assert reader.execute("SELECT COUNT(*) FROM pair").fetchone() == (2,)
    plain = tmp_path / "plain"
    with closing(opened(plain)) as db:
        db.execute("CREATE TABLE pair (n INTEGER)")
    assert "no log" in refused(plain)


@pytest.mark.parametrize(
    ("answer", "good"),
    [((0, 5, 5), True), ((0, 0, 0), True), ((0, 5, 3), False), ((1, 5, 5), False), ((1, -1, -1), False)],
)
def test_it_is_held_when_the_whole_log_is_in_and_no_other_checkpoint_is_under_way(
    live: Path, answer: tuple[int, int, int], good: bool
) -> None:
    """What `PRAGMA wal_checkpoint` answers: busy, frames in the log, frames in the file; -1 where another one holds it."""

    class Reader:
        def execute(self, words: str) -> Reader:
            return self

        def fetchone(self) -> tuple[int, int, int]:
            return answer

    with closing(opened(live)) as gate:
        assert held._begun(Reader(), gate) is good  # type: ignore[arg-type]
        assert not gate.in_transaction


def test_a_file_that_cannot_be_read_to_its_end_is_an_error(live: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for reader in ("raise OSError('broken disk')", "import sys; sys.stdout.buffer.write(b'short')"):
        monkeypatch.setattr(held, "READER", reader)
        with pytest.raises(OSError, match="could not be read to its end"):
            list(content_of(live))
    touch = (
        "import os, shutil, sys; shutil.copyfileobj(open(sys.argv[1], 'rb'), sys.stdout.buffer); os.utime(sys.argv[1])"
    )
    for reader in (touch, "import sys; print(open(sys.argv[1], 'rb').read())"):
        monkeypatch.setattr(held, "READER", reader)
        with pytest.raises(OSError, match="changed while it was read"):
            list(content_of(live))
