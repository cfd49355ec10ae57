"""Two web servers and two workers on one PostgreSQL, loaded; one of each is killed in the middle: nothing may be lost.

    .venv/bin/python tests/bench/cluster.py
    .venv/bin/python tests/bench/cluster.py --players 40 --seconds 40 --pause 0.5 --packs 4

The composition of `docker-compose.yml --profile two` without containers: two `studio.webserver` of their own, two
`manage.py worker`, one data folder, one database. Half of the players begin at either server; whoever meets a server that is gone asks the other, as
the proxy does, with the same words (a save that arrives twice is one save). Web server 1 is killed by
SIGKILL after half the time, and the first worker that has a pack in hand. Checked at the end: every save that was answered with 200 is in the history; every pack is
made, exactly once; a session made at one server is good at the other; so is a sound file; requests to either count
against one throttle.
"""

from __future__ import annotations

import argparse
import http.client
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

from tests.bench.load import Run, Visitor, _wait, free_port  # noqa: E402

LETTERS_AN_HOUR = 5  # for one address of a person: studio.security.RATE_LIMITS, reset_password


class Either:
    """A browser behind the proxy: asks the other server when its own is gone."""

    def __init__(self, ports: list[int], session: str, number: int) -> None:
        self.visitors = [Visitor(port, session) for port in ports]
        self.at, self.moved = number % len(ports), 0
        self.headers = self.visitors[self.at].headers

    def ask(self, method: str, path: str, body: Any = None) -> tuple[int, bytes]:
        try:
            self.visitors[self.at].headers = self.headers
            return self.visitors[self.at].ask(method, path, body)
        except (OSError, http.client.HTTPException):
            self.at, self.moved = 1 - self.at, self.moved + 1
            self.visitors[self.at].headers = self.headers
            return self.visitors[self.at].ask(method, path, body)


class Cluster(Run):
    """The load of `load.py` over two servers, one of which does not live to see the end."""

    def __init__(self, options: argparse.Namespace) -> None:
        super().__init__(options)
        self.ports: list[int] = []
        self.webs: list[subprocess.Popen[bytes]] = []
        self.workers: list[subprocess.Popen[bytes]] = []
        self.browsers: list[Either] = []
        self.said: list[str] = []

    @contextmanager
    def server(self) -> Iterator[int]:
        self.ports = [free_port(), free_port()]
        for port in self.ports:
            command = [sys.executable, "-m", *self.command(f"127.0.0.1:{port}")]
            self.webs.append(subprocess.Popen(command, cwd=ROOT, start_new_session=True))
        try:
            for port in self.ports:
                _wait(port)
                for _ in range(self.options.processes):
                    Visitor(port, "").ask("GET", "livez")
            yield self.ports[0]
        finally:
            _end(self.webs)

    @contextmanager
    def worker(self) -> Iterator[None]:
        surroundings = os.environ | {"TOPFORM_NO_VENV": "1"}
        command = [sys.executable, "manage.py", "worker", "--round", "3"]
        self.workers = [subprocess.Popen(command, cwd=ROOT, env=surroundings, start_new_session=True) for _ in range(2)]
        try:
            yield
        finally:
            _end(self.workers)

    def visitor(self, port: int, session: str, number: int) -> Any:
        found = Either(self.ports, session, number)
        self.browsers.append(found)
        return found

    def load(self, port: int) -> None:
        killers = [threading.Timer(3 + self.options.seconds / 2, self.kill), threading.Thread(target=self.kill_worker)]
        for killer in killers:
            killer.start()
        super().load(port)
        for killer in killers:
            killer.join()
        self.shared()
        self.wait_for_packs()

    def kill(self) -> None:
        """As a machine does that loses its power."""
        os.killpg(self.webs[0].pid, signal.SIGKILL)
        self.said.append(f"web server 1 killed after {3 + self.options.seconds / 2:.0f} s")

    def kill_worker(self) -> None:
        """The one that has a pack in hand, as soon as one has."""
        from django.db import connection
        from django_tasks_db.models import DBTaskResult

        until = time.monotonic() + self.options.seconds
        try:
            while time.monotonic() < until:
                for names in DBTaskResult.objects.filter(status="RUNNING").values_list("worker_ids", flat=True):
                    busy = [one for one in self.workers if any(name.endswith(f":{one.pid}") for name in names)]
                    if busy:
                        os.killpg(busy[0].pid, signal.SIGKILL)
                        self.said.append("a worker killed with a pack in hand")
                        return
                time.sleep(0.05)
            self.said.append("no worker was met at work: more --packs")
        finally:
            connection.close()

    def shared(self) -> None:
        """What one server did counts at another: a third is started in the place of the first."""
        command = [sys.executable, "-m", *self.command(f"127.0.0.1:{self.ports[0]}")]
        self.webs.append(subprocess.Popen(command, cwd=ROOT, start_new_session=True))
        _wait(self.ports[0])
        pages = [Visitor(port, self.cookies[0]).ask("GET", "me/")[0] for port in self.ports]
        self.said.append(f"one session at both servers: {pages}")
        if self.sound:
            sizes = [len(Visitor(port, self.cookies[0]).ask("GET", self.sound)[1]) for port in self.ports]
            self.said.append(f"one sound file from both, bytes: {sizes}")
        letters = [self.reset(self.ports[n % 2]) for n in range(LETTERS_AN_HOUR + 2)]
        self.said.append(
            f"letters for one lost password, asked of both in turn: {letters} (throttled after {LETTERS_AN_HOUR})"
        )

    def reset(self, port: int) -> int:
        own = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        own.request(
            "POST", "/account/password/reset/", urlencode({"email": self.leader.email}),
            {"Content-Type": "application/x-www-form-urlencoded", "Cookie": f"csrftoken={'a' * 32}", "X-CSRFToken": "a" * 32},
        )  # fmt: skip
        return own.getresponse().status

    def wait_for_packs(self) -> None:
        from studio.models import Job

        until = time.monotonic() + 240  # a killed worker's job is taken up after a minute of silence
        jobs = Job.objects.filter(pk__in=[pack.job_id for pack in self.packs])
        while jobs.exclude(state__in=["done", "failed"]).exists() and time.monotonic() < until:
            time.sleep(1)
        parts = [
            (job.state, job.attempts, pack.parts.count())
            for pack, job in ((p, jobs.get(pk=p.job_id)) for p in self.packs)
        ]
        self.said.append(f"packs (state, times begun, parts): {parts}")
        if any(state != "done" for state, _, _ in parts):
            self.errors.append("a pack was lost")

    def report(self) -> int:
        code = super().report()
        moved = sum(one.moved > 0 for one in self.browsers)
        print(
            "\n".join([*self.said, f"browsers that went over to the other server: {moved} of {len(self.browsers)}"]),
            flush=True,
        )
        return code


def _end(processes: list[subprocess.Popen[bytes]]) -> None:
    for process in processes:
        if process.poll() is None:
            process.terminate()
    for process in processes:
        process.wait(30)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--players", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=30.0)
    parser.add_argument("--pause", type=float, default=1.0)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--threads", type=int, default=8)
    parser.add_argument("--reviewers", type=int, default=1)
    parser.add_argument("--listeners", type=int, default=1)
    parser.add_argument("--packs", type=int, default=2)
    options = parser.parse_args()
    options.database = "postgres"
    return Cluster(options).go()


if __name__ == "__main__":
    sys.exit(main())
