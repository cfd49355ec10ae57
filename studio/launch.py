"""Starting the site on one machine: checks first, then the web server and the worker side by side.

Everything that can be wrong is found before anything is started, and said in one line.
"""
from __future__ import annotations

import contextlib
import fcntl
import hashlib
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor

from studio.bootstrap import Stop

START_PATIENCE = 40.0  # seconds until the web server must have answered
RESTART_PAUSE = 2.0


def check_port(host: str, port: int) -> None:
    """Stop when something else listens on the port."""
    if not 0 < port < 65536:
        raise Stop(f"{port} is not a port; choose one from 1024 to 65535, for example --port 8000.")
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except PermissionError as error:
            raise Stop(f"This account may not use port {port}; choose one above 1023 with --port.") from error
        except OSError as error:
            raise Stop(
                f"Port {port} on {host} is in use ({error.strerror}). Stop the other program, or choose another "
                f"port: --port {port + 1 if port < 65535 else 8000}."
            ) from error


@contextlib.contextmanager
def only_one(folder: Path) -> Iterator[None]:
    """Hold the lock of the data folder; Stop when another start command holds it."""
    lock: IO[str] = open(folder / "running", "a+", encoding="utf-8")  # noqa: SIM115 (held until the end)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        lock.seek(0)
        raise Stop(f"The site is already running from {folder} ({lock.read().strip() or 'by another process'}).") from error
    lock.truncate(0)
    lock.write(f"process {os.getpid()}\n")
    lock.flush()
    try:
        yield
    finally:
        lock.truncate(0)
        lock.close()


def is_running(folder: Path) -> bool:
    """True while a start command holds the data folder."""
    path = folder / "running"
    if not path.exists():
        return False
    with open(path, encoding="utf-8") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except OSError:
            return True
    return False


def prepare_database() -> None:
    """Migrate, keeping a copy first when there is something to keep. Stop with a clear line when that fails."""
    where = connection.settings_dict["NAME"]
    try:
        executor = MigrationExecutor(connection)
        applied = set(executor.loader.applied_migrations)
        newer = applied - set(executor.loader.disk_migrations)
        if newer:
            raise Stop(
                f"{where} was made by a newer version of the site (it has {'.'.join(sorted(newer)[0])}). "
                "Update the program, or restore a backup of this version. Nothing was changed."
            )
        pending = executor.migration_plan(executor.loader.graph.leaf_nodes())
        if pending and applied:
            from studio.backup import make_backup

            kept = make_backup(settings.DATA_DIR / "backups", reason="before-update")
            print(f"A copy of the data is kept in {kept}.")
        if pending:
            print("Preparing the database ...", flush=True)
        call_command("migrate", verbosity=0, interactive=False)
        call_command("createcachetable", verbosity=0)
    except DatabaseError as error:
        raise Stop(
            f"The database {where} cannot be used: {str(error).strip().splitlines()[0]}. It was left as it is. "
            "Move it away to start afresh, or restore a backup with `python3 manage.py restore`."
        ) from error


def _static_state() -> str:
    """Changes whenever a static file or a package does."""
    digest = hashlib.sha256((settings.BASE_DIR / "requirements.txt").read_bytes())
    for path in sorted((settings.BASE_DIR / "static").rglob("*")):
        if path.is_file():
            digest.update(f"{path}{path.stat().st_mtime_ns}".encode())
    return digest.hexdigest()


def prepare_static() -> None:
    """Collect, hash and compress the static files, unless nothing has changed since last time."""
    stamp, state = settings.STATIC_ROOT / ".collected", _static_state()
    if stamp.is_file() and stamp.read_text() == state:
        return
    print("Collecting static files ...", flush=True)
    call_command("collectstatic", verbosity=0, interactive=False, clear=True)
    stamp.write_text(state)


class Servers:
    """The web server and the worker as child processes."""

    def __init__(self, host: str, port: int, processes: int, threads: int) -> None:
        bind = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
        self.address = f"http://{'localhost' if host in {'127.0.0.1', '0.0.0.0', '::1'} else host}:{port}"
        self.probe = f"http://{'127.0.0.1' if host == '0.0.0.0' else bind.rpartition(':')[0]}:{port}/livez"
        self.web_command = [
            sys.executable, "-m", "gunicorn", "studio.wsgi", "--bind", bind, "--worker-class", "gthread",
            "--workers", str(processes), "--threads", str(threads), "--timeout", "60", "--graceful-timeout", "10",
            "--no-control-socket", "--log-level", "warning",
        ]
        self.worker_command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "worker"]
        self.web: subprocess.Popen[bytes] | None = None
        self.worker: subprocess.Popen[bytes] | None = None
        self.stopping = False

    def start(self) -> None:
        """Start both; return when the web server answers."""
        # A session of their own: Ctrl-C reaches this process only, which then stops both in order.
        self.web = subprocess.Popen(self.web_command, cwd=settings.BASE_DIR, start_new_session=True)
        self.worker = subprocess.Popen(self.worker_command, cwd=settings.BASE_DIR, start_new_session=True)
        deadline = time.monotonic() + START_PATIENCE
        while not self._answers():
            if self.web.poll() is not None or time.monotonic() > deadline:
                raise Stop("The web server did not start; the lines above say why.")
            time.sleep(0.1)

    def _answers(self) -> bool:
        try:
            with urllib.request.urlopen(self.probe, timeout=2) as answer:
                return bool(answer.status == 200)
        except (urllib.error.URLError, OSError):
            return False

    def watch(self) -> None:
        """Stay until the web server ends or `stop` is called; a worker that dies is started again."""
        assert self.web
        assert self.worker
        while not self.stopping:
            if self.web.poll() is not None:
                raise Stop(f"The web server ended by itself (code {self.web.returncode}); start again.")
            if self.worker.poll() is not None:
                print("The worker ended; starting it again.", flush=True)
                time.sleep(RESTART_PAUSE)
                self.worker = subprocess.Popen(self.worker_command, cwd=settings.BASE_DIR, start_new_session=True)
            time.sleep(0.3)

    def stop(self) -> None:
        """Stop both and wait; a job in progress gets a few seconds to end."""
        self.stopping = True
        running = [child for child in (self.web, self.worker) if child and child.poll() is None]
        for child in running:
            child.send_signal(signal.SIGTERM)
        for child in running:
            try:
                child.wait(timeout=12)
            except subprocess.TimeoutExpired:
                child.kill()
                child.wait()
