"""Who works with the data folder now: every process that opens the database says so until it ends.

Each process holds a lock on a file of its own in `DATA/running`; the name of the file says who it is, the lock that it
lives (a killed process loses it, and its file is cleared away by the next). Whoever replaces data, as a restore does,
asks for the folder `alone`: that fails while one process lives, and while it lasts nobody else can come in. Containers
that share the data folder share the locks.
"""

from __future__ import annotations

import contextlib
import logging
import os
import re
import secrets
import socket
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import OperationalError

from studio.bootstrap import Stop
from studio.locks import Lock

log = logging.getLogger(__name__)

JOURNAL = "restoring.json"  # what a restore has still to do (studio.restoring)
PATIENCE = 3.0  # seconds that a process waits at the gate: others pass it in milliseconds

_mine: dict[Path, tuple[int, Lock]] = {}  # folder → the process that came in, and its lock


def _room(folder: Path) -> Path:
    room = folder / "running"
    if room.is_file():  # the lock of version 0.1.0
        room.unlink()
    room.mkdir(parents=True, exist_ok=True)
    return room


def _who() -> str:
    """What this process is, as a file name: `worker, process 4711 on desk`."""
    program = Path(sys.argv[0]).name
    role = sys.argv[1] if program in {"manage.py", "manage"} and len(sys.argv) > 1 else program or "python"
    return re.sub(r"[^\w.-]", "", f"{role}.{os.getpid()}.{socket.gethostname()}")[:100] + f".{secrets.token_hex(4)}"


def describe(name: str) -> str:
    """The name of a file as words."""
    role, process, machine = (*name.split("."), "", "")[:3]
    return f"{role}, process {process} on {machine}"


def _gate(room: Path) -> Lock | None:
    """The lock at the entrance, or None when it stays shut."""
    gate, until = Lock(room / "gate"), time.monotonic() + PATIENCE
    while not gate.take():
        if time.monotonic() > until:
            return None
        time.sleep(0.02)
    return gate


def come_in(folder: Path) -> None:
    """Say that this process works with `folder`, until it ends. OperationalError while somebody has it alone."""
    if folder in _mine:  # a forked child keeps its parent's lock: the open file is the same
        return
    room = _room(folder)
    gate = _gate(room)
    if gate is None:
        raise OperationalError("the data folder is closed: a restore or an update is under way")
    try:
        if (folder / JOURNAL).exists():
            raise OperationalError("a restore was cut short: `python3 manage.py prepare`, or a start, ends it")
        if folder not in _mine:  # another thread was quicker
            lock = Lock(room / _who())
            lock.take()
            _mine[folder] = (os.getpid(), lock)
    finally:
        gate.give_back()


def leave(folder: Path) -> None:
    """Take back what `come_in` said."""
    process, lock = _mine.pop(folder, (0, None))
    if lock and process == os.getpid():
        lock.give_back()
        lock.path.unlink(missing_ok=True)


def others(folder: Path) -> list[str]:
    """Who else lives here, in words. Files of processes that are gone are cleared away. Hold the gate."""
    found = []
    own = _mine[folder][1].path.name if folder in _mine else ""
    for path in sorted(_room(folder).iterdir()):
        if path.name in {"gate", own}:
            continue
        lock = Lock(path)
        if lock.take():
            lock.give_back()
            path.unlink(missing_ok=True)
        else:
            found.append(describe(path.name))
    return found


@contextlib.contextmanager
def alone(folder: Path, purpose: str) -> Iterator[None]:
    """Have `folder` to oneself; Stop, naming who lives there, when that cannot be."""
    gate = _gate(_room(folder))
    if gate is None:
        raise Stop(f"Another restore or update is under way in {folder}; {purpose} must wait.")
    try:
        if living := others(folder):
            raise Stop(
                f"The site is running from {folder} ({'; '.join(living[:4])}). Stop it first: {purpose} needs it alone."
            )
        known = folder in _mine
        _mine.setdefault(folder, (0, gate))
        try:
            yield
        finally:
            if not known:
                del _mine[folder]
    finally:
        gate.give_back()


@contextlib.contextmanager
def one_start(folder: Path) -> Iterator[None]:
    """Held by the one process that starts or prepares the site; Stop when another does."""
    folder.mkdir(parents=True, exist_ok=True)
    lock = Lock(folder / "starting")
    if not lock.take():
        raise Stop(f"The site is already running from {folder}, or is being started or updated there.")
    try:
        yield
    finally:
        lock.give_back()


def on_connection(**kwargs: Any) -> None:
    """Called by Django for every new connection: whoever opens the database is present."""
    try:
        come_in(settings.DATA_DIR)
    except OperationalError:
        kwargs["connection"].close()
        raise
    except (
        OSError
    ) as error:  # a full or read-only disk: reading still works, and a restore could not write there either
        log.warning("%s: this process cannot say that it lives: %s", settings.DATA_DIR, error)
