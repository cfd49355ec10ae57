"""The power goes, two hundred times, while players save: is everything there that the site said was saved?

    .venv/bin/python tests/bench/power.py                  200 moments, about three minutes
    .venv/bin/python tests/bench/power.py --times 20

A real site on SQLite (two web processes and the worker) takes answers without a pause. At a random moment all its processes
are stopped at once, the database and its log are copied, and the site goes on. Each copy is opened as the next start would
open it: it must be sound, and hold every answer that had been acknowledged before the moment. Two copies of each moment:

  stopped     what the system had in memory: the processes died, the machine did not
  power       what a disk without power has: the files as they were when the site last waited for the disk, and of what was
              written since each block of 4 kB or not, by chance. A small library between the site and the C library keeps
              the files of the last wait; it needs a C compiler, and without one this row is not tried.

A wait that a disk acknowledges without having written is not simulated: no program can help there.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

from tests.bench import crash_site  # noqa: E402
from tests.bench.crash_site import House  # noqa: E402

NAME, BLOCK, WRITERS = "topform.sqlite3", 4096, 4
PARTS = (NAME, f"{NAME}-wal")
# Before the real wait begins, the file as it is now is kept under another name, whole or not at all: what was written by
# then is what the wait makes last, whoever wrote it.
KEEPER = r"""
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <unistd.h>

static int ends(const char *text, const char *end) {
    size_t a = strlen(text), b = strlen(end);
    return a >= b && !strcmp(text + a - b, end);
}

static void keep(int fd) {
    char link[64], path[4000], part[4100], kept[4100], turn[4100], buffer[65536];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t size = readlink(link, path, sizeof path - 1), read;
    if (size < 0) return;
    path[size] = 0;
    if (!ends(path, "topform.sqlite3") && !ends(path, "topform.sqlite3-wal")) return;
    snprintf(part, sizeof part, "%s.part", path);
    snprintf(kept, sizeof kept, "%s.synced", path);
    snprintf(turn, sizeof turn, "%s.turn", path);
    int lock = open(turn, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
    if (lock < 0 || flock(lock, LOCK_EX)) _exit(99);
    int out = open(part, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    if (out < 0) _exit(99);
    off_t at = 0;
    while ((read = pread(fd, buffer, sizeof buffer, at)) > 0) {
        if (pwrite(out, buffer, read, at) != read) _exit(99);
        at += read;
    }
    if (close(out) || rename(part, kept) || close(lock)) _exit(99);
}

int fsync(int fd) {
    keep(fd);
    return ((int (*)(int))dlsym(RTLD_NEXT, "fsync"))(fd);
}

int fdatasync(int fd) {
    keep(fd);
    return ((int (*)(int))dlsym(RTLD_NEXT, "fdatasync"))(fd);
}
"""


@dataclass
class Row:
    """What the copies of one kind held."""

    name: str
    copies: int = 0
    acknowledged: int = 0
    lost: int = 0
    short: int = 0  # copies that lost something
    most: int = 0  # lost in one copy
    damaged: int = 0

    def look(self, room: Path, acknowledged: list[tuple[str, ...]]) -> None:
        """Open one copy as the next start would."""
        self.copies += 1
        self.acknowledged += len(acknowledged)
        try:
            with contextlib.closing(sqlite3.connect(room / NAME)) as database:
                sound = database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
                sound = sound and not database.execute("PRAGMA foreign_key_check").fetchall()
                there = {
                    (str(attempt), str(uuid.UUID(client)), str(sequence), text)
                    for attempt, client, sequence, text in database.execute(
                        "SELECT attempt_id, client, sequence, text FROM assessments_answerhistory"
                    )
                }
        except sqlite3.DatabaseError as error:
            print(f"{self.name}: {error}", file=sys.stderr)
            sound, there = False, set()
        missing = sum(tuple(what) not in there for _, *what in acknowledged)
        self.damaged += not sound
        self.lost += missing
        self.short += bool(missing)
        self.most = max(self.most, missing)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    crash_site.prepare_once()
    rows = [Row("stopped"), Row("power")]
    with contextlib.ExitStack() as kept:
        kept.callback(shutil.rmtree, crash_site.prepared["room"], ignore_errors=True)
        room = Path(kept.enter_context(tempfile.TemporaryDirectory(prefix="topform-power-")))
        house = House(room / "site", seed=options.seed)
        kept.callback(house.close)
        library = compiled(room)
        house.start(**({"LD_PRELOAD": str(library)} if library else {}))
        if not library:
            rows.pop()
        with house.writers(WRITERS):
            for number in range(options.times):
                one_moment(house, rows, room / f"copy-{number}")
    print(
        f"{'copy':10}{'moments':>9}{'acknowledged':>14}{'lost':>7}{'moments with loss':>19}{'most at one':>13}{'damaged':>9}"
    )
    for row in rows:
        print(f"{row.name:10}{row.copies:9}{row.acknowledged:14}{row.lost:7}{row.short:19}{row.most:13}{row.damaged:9}")
    if not library:
        print("power: not tried, there is no C compiler")
    print(f"answers acknowledged in all: {house.saved}, answers of 500: {house.errors}")
    return 1 if any(row.lost or row.damaged for row in rows) or house.errors else 0


def compiled(room: Path) -> Path | None:
    compiler = shutil.which("cc") or shutil.which("gcc")
    if not compiler:
        return None
    source, library = room / "keeper.c", room / "keeper.so"
    source.write_text(KEEPER)
    subprocess.run([compiler, "-O1", "-shared", "-fPIC", "-o", library, source, "-ldl"], check=True)
    return library


def one_moment(house: House, rows: list[Row], copy: Path) -> None:
    """Stop everything, copy, go on, look."""
    time.sleep(0.05 + 0.4 * house.random.random())
    rooms = [copy / row.name for row in rows]
    for room in rooms:
        room.mkdir(parents=True)
    with house.guard:  # what was acknowledged before the moment
        acknowledged = list(house.acknowledged)
    with stopped(house.living()):
        for part in PARTS:
            for row, room in zip(rows, rooms, strict=True):
                live = house.folder / part
                content = live.read_bytes() if live.exists() else b""
                (room / part).write_bytes(
                    without_power(live, content, house.random) if row.name == "power" else content
                )
    for row, room in zip(rows, rooms, strict=True):
        row.look(room, acknowledged)
    shutil.rmtree(copy)


@contextlib.contextmanager
def stopped(processes: list[int]) -> Iterator[None]:
    """Every process stands still inside."""
    try:
        for pid in processes:
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGSTOP)
        until = time.monotonic() + 10
        while not all(_stands(pid) for pid in processes):
            if time.monotonic() > until:
                raise RuntimeError("a process of the site cannot be stopped")
        yield
    finally:
        for pid in processes:
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGCONT)


def _stands(pid: int) -> bool:
    """Stopped, all threads of it, or gone (proc(5), `status`)."""
    try:
        states = [
            (task / "stat").read_text().rsplit(")", 1)[1].split()[0] for task in Path(f"/proc/{pid}/task").iterdir()
        ]
    except (FileNotFoundError, ProcessLookupError):
        return True
    return all(state in "TtZX" for state in states)


def without_power(live: Path, content: bytes, chance: random.Random) -> bytes:
    """What a disk has of a file: all of the last wait, and of what differs since each block or not."""
    synced = Path(f"{live}.synced")
    last = synced.read_bytes() if synced.exists() else content  # never waited for since the start: it was there before
    found = bytearray(last)
    for at in range(0, len(content), BLOCK):
        new = content[at : at + BLOCK]
        if new != last[at : at + BLOCK] and chance.random() < 0.5:
            found.extend(bytes(max(0, at + len(new) - len(found))))
            found[at : at + len(new)] = new
    return bytes(found)


if __name__ == "__main__":
    sys.exit(main())
