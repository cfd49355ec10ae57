"""Listeners that do not drain and half-sent requests beside forty players who save: a real server, real HTTP, loopback.

    .venv/bin/python tests/bench/slow.py sqlite
    .venv/bin/python tests/bench/slow.py postgres --readers 200 --half 100 --seconds 15

The players of `tests/bench/load.py` save twice on one server: quiet, and while `--readers` connections have asked for a
recording and read nothing, and `--half` connections have sent half a request (headers, or a body that stops). Prints the
p95 of a save in both, their ratio, and errors. Aims: no error, the ratio at most 2. `--server gunicorn` measures the
threaded server that was used before (`pip install -r requirements-dev.txt`).
"""

from __future__ import annotations

import argparse
import contextlib
import socket
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))
from tests.bench.load import Run, _at, _cookie  # noqa: E402

SOUND_MB = 24


class Slow(Run):
    """One server, twice the same load."""

    def go(self) -> int:
        import shutil

        try:
            self.prepare()
            self.recording = self._recording()
            with self.server() as port:
                quiet = self._saves(port)
                with self._crowd(port):
                    crowded = self._saves(port)
            return self._told(quiet, crowded)
        finally:
            shutil.rmtree(self.folder, ignore_errors=True)

    def _recording(self) -> int:
        """A recording of 24 MB, and the session of a player who may hear it."""
        from django.core.files.base import ContentFile
        from django.urls import reverse

        from tests import factories
        from tunes.models import RecordingFile

        found = factories.make_recording(factories.make_tune())
        data = b"\x00" * (SOUND_MB * 1024 * 1024)
        row = RecordingFile(
            recording=found, rights="our own", media_type="audio/wav", size=len(data), duration=60.0, digest="ab" * 32
        )
        row.file.save("x", ContentFile(data), save=False)
        row.save()
        from django.db import connections

        self.listener, self.address = _cookie(self.leader), reverse("tunes:recording-sound", args=[found.pk])
        connections.close_all()
        return int(found.pk)

    def command(self, bind: str) -> list[str]:
        if self.options.server == "site":
            return super().command(bind)
        return [
            "gunicorn",
            "studio.wsgi",
            "--bind",
            bind,
            "--worker-class",
            "gthread",
            "--workers",
            str(self.options.processes),
            "--threads",
            str(self.options.threads),
            "--log-level",
            "warning",
            "--no-control-socket",
        ]

    def _saves(self, port: int) -> list[float]:
        self.times, self.warm = defaultdict(list), time.monotonic() + 3
        self.until = self.warm + self.options.seconds
        threads = [threading.Thread(target=self._player, args=(port, n)) for n in range(self.options.players)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        return self.times["save"]

    def _player(self, port: int, number: int) -> None:
        try:
            self.player(port, number)
        except Exception as error:  # a thread that ends early is an error of the run, whatever it was
            self.errors.append(f"player {number}: {error!r}")

    @contextmanager
    def _crowd(self, port: int) -> Iterator[None]:
        """The slow ones, kept up: one that is cut off comes back."""
        stop = threading.Event()
        self.cut_off = 0
        keeper = threading.Thread(target=self._keep, args=(port, stop))
        keeper.start()
        time.sleep(2)
        try:
            yield
        finally:
            stop.set()
            keeper.join()

    def _keep(self, port: int, stop: threading.Event) -> None:
        sound = (
            f"GET {self.address} HTTP/1.1\r\nHost: localhost\r\nCookie: sessionid={self.listener}\r\n\r\n"
        ).encode()
        head = b"GET /work/ HTTP/1.1\r\nHost: localhost\r\nX-Half: "
        body = b"POST /account/login/ HTTP/1.1\r\nHost: localhost\r\nContent-Length: 5000\r\n\r\nlogin=a"
        wanted = [sound] * self.options.readers + [head, body] * (self.options.half // 2)
        crowd: list[socket.socket | None] = [None] * len(wanted)
        while not stop.is_set():
            for place, sent in enumerate(wanted):
                if crowd[place] is None:
                    with contextlib.suppress(OSError):
                        crowd[place] = self._one(port, sent)
                elif sent is not sound and self._is_cut(crowd[place]):
                    self.cut_off += 1
                    crowd[place] = None
            stop.wait(1)
        for one in crowd:
            if one is not None:
                one.close()

    @staticmethod
    def _one(port: int, sent: bytes) -> socket.socket:
        one = socket.socket()
        one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        one.settimeout(2)
        one.connect(("127.0.0.1", port))
        one.sendall(sent)
        one.setblocking(False)
        return one

    @staticmethod
    def _is_cut(one: socket.socket | None) -> bool:
        try:
            return one is not None and one.recv(1) == b""
        except BlockingIOError:
            return False
        except OSError:
            return True

    def _told(self, quiet: list[float], crowded: list[float]) -> int:
        o = self.options
        print(
            f"\n{o.database}, {o.server}: {o.players} players, {o.processes} processes x {o.threads} threads, {o.seconds:.0f} s each"
        )
        for name, times in (("quiet", quiet), (f"{o.readers} slow readers, {o.half} half requests", crowded)):
            print(f"{name:40} saves {len(times):5}  p50 {_at(times, 0.5):7.1f}  p95 {_at(times, 0.95):7.1f} ms")
        print(
            f"p95 crowded / quiet: {_at(crowded, 0.95) / _at(quiet, 0.95):.2f} (aim 2)  errors: {len(self.errors)} "
            f"{self.errors[:3] if self.errors else ''}  half requests cut off: {self.cut_off}",
            flush=True,
        )
        return 1 if self.errors or not crowded else 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("database", nargs="?", choices=("sqlite", "postgres"), default="sqlite")
    parser.add_argument("--server", choices=("site", "gunicorn"), default="site")
    for name, default in (("players", 40), ("readers", 200), ("half", 100), ("processes", 2), ("threads", 8)):
        parser.add_argument(f"--{name}", type=int, default=default)
    parser.add_argument("--seconds", type=float, default=15.0)
    parser.add_argument("--pause", type=float, default=1.0)
    return Slow(parser.parse_args()).go()


if __name__ == "__main__":
    sys.exit(main())
