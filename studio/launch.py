"""Starting the site on one machine: checks first, then the web server and the worker side by side.

Everything that can be wrong is found before anything is started, and said in one line.
"""

from __future__ import annotations

import hashlib
import socket
import subprocess
import time
import urllib.error
import urllib.request

from django.conf import settings
from django.core.management import call_command

from studio import tether
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
            "studio.webserver",
            "--bind",
            bind,
            "--processes",
            str(processes),
            "--threads",
            str(threads),
        ]
        self.worker_command = ["manage", "worker"]
        self.web: subprocess.Popen[bytes] | None = None
        self.worker: subprocess.Popen[bytes] | None = None
        self.stopping = False

    def start(self) -> None:
        """Start both; return when the web server answers."""
        # Ctrl-C reaches this process only, which then stops both in order; when it is killed, both end by themselves.
        self.web = tether.start(*self.web_command, folder=settings.BASE_DIR)
        self.worker = tether.start(*self.worker_command, folder=settings.BASE_DIR)
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
                self.worker = tether.start(*self.worker_command, folder=settings.BASE_DIR)
            time.sleep(0.3)

    def stop(self) -> None:
        """Stop both and wait; a job in progress gets a few seconds to end."""
        self.stopping = True
        running = [child for child in (self.web, self.worker) if child and child.poll() is None]
        for child in running:
            child.terminate()
        for child in running:
            try:
                child.wait(timeout=12)
            except subprocess.TimeoutExpired:
                child.kill()
                child.wait()
