"""Forty players answering while an instructor reviews: a real server, real databases, real HTTP.

    .venv/bin/python tests/bench/load.py                  both databases
    .venv/bin/python tests/bench/load.py sqlite --pause 0.5 --seconds 20

Each player saves an answer, asks twice how it is understood (as the page does while one types), posts the
same text to a bare view that does one insert, and rests `--pause` seconds (players type slower than that).
The instructor opens the queue, a sheet, the ensemble sheet and the ledger without rest. Prints p50 and p95
in milliseconds for each page, errors, and the ratio of a save to the bare view in the same run.
Harsher: `--reviewers 5 --listeners 10 --packs 3` (several instructors, people who hear a recording of 24 MB, packs of drills
that a worker engraves meanwhile).
Aims: no error; p95 of a save at most 3 times the bare view's and at most 300 ms.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))
FIELDS, SOUND_MB = 32, 24
CHART = "key: F major\n[A]\n" + "| Fmaj7 | D7 | Gm7 | C7 |\n" * (FIELDS // 4)
TYPED = ("5 of 2", "ii7", "V7", "Imaj7", "sub 5", "bVII7", "#4 dim", "2")
AIM_RATIO, AIM_MS = 3.0, 300.0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("database", nargs="?", choices=("sqlite", "postgres", "both"), default="both")
    parser.add_argument("--players", type=int, default=40)
    parser.add_argument("--seconds", type=float, default=30.0)
    parser.add_argument("--pause", type=float, default=1.0)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--threads", type=int, default=8)
    parser.add_argument("--reviewers", type=int, default=1)
    parser.add_argument("--listeners", type=int, default=0)
    parser.add_argument("--packs", type=int, default=0)
    options = parser.parse_args()
    if options.database == "both":
        rest = [word for word in sys.argv[1:] if word != "both"]
        return max(subprocess.call([sys.executable, __file__, name, *rest]) for name in ("sqlite", "postgres"))
    return Run(options).go()


class Run:
    """One database, one server, one table of figures."""

    def __init__(self, options: argparse.Namespace) -> None:
        self.options = options
        self.folder = Path(tempfile.mkdtemp(prefix="topform-load-"))
        self.times: dict[str, list[float]] = defaultdict(list)
        self.errors: list[str] = []
        self.lock = threading.Lock()

    def go(self) -> int:
        try:
            self.prepare()
            with self.server() as port, self.worker():
                self.load(port)
            return self.report()
        finally:
            shutil.rmtree(self.folder, ignore_errors=True)

    def prepare(self) -> None:
        """An empty site with one ensemble, one assignment, one attempt begun by each player."""
        os.environ |= {
            "DJANGO_SETTINGS_MODULE": "tests.bench.load_settings",
            "TOPFORM_DATA": str(self.folder),
            "TOPFORM_SECRET_KEY": "only-for-this-measurement-0123456789-0123456789",
        }
        os.environ.pop("TOPFORM_DEBUG", None)
        if self.options.database == "postgres":
            from tests import postgres

            os.environ["TOPFORM_DB_HOST"] = postgres.start()
            os.environ["TOPFORM_DB_NAME"] = "postgres"
        import django

        django.setup()
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
        call_command("createcachetable", verbosity=0)
        call_command("collectstatic", verbosity=0, interactive=False)
        self._people()

    def _people(self) -> None:
        from assessments.services.hand_in import start_attempt
        from tests import factories

        ensemble = factories.make_ensemble()
        self.leader = factories.make_instructor(ensemble)
        revision = factories.make_chart_revision(text=CHART)
        step = factories.make_assignment(ensemble, by=self.leader, revision=revision, ask_repeats=True).steps.get()
        self.ids, self.step = list(step.quiz.ids), step.pk
        players = [factories.make_player(ensemble) for _ in range(self.options.players)]
        self.attempts = [start_attempt(step=step, player=p).pk for p in players]
        self.cookies = [_cookie(p) for p in players]
        done = [factories.make_attempt(step, factories.make_player(ensemble), hand_in=True) for _ in range(10)]
        self.sheets, self.leader_cookie = [a.pk for a in done], _cookie(self.leader)
        self.packs = [self._pack(ensemble, revision) for _ in range(getattr(self.options, "packs", 0))]
        self.sound = self._sound() if getattr(self.options, "listeners", 0) else ""
        from django.db import connections

        connections.close_all()

    def _pack(self, ensemble: Any, revision: Any) -> Any:
        """A pack that waits for the worker: two drills and the chart for every chair."""
        from drills.lines.build import Recipe
        from drills.services.packs import make_pack
        from drills.wishes import Wish

        wishes = [Wish(recipe=Recipe()), Wish(recipe=Recipe(), order="fourths")]
        return make_pack(ensemble=ensemble, revision=revision, wishes=wishes, with_chart=True, by=self.leader)

    def _sound(self) -> str:
        """The address of a recording of 24 MB."""
        from django.core.files.base import ContentFile
        from django.urls import reverse

        from tests import factories
        from tunes.models import RecordingFile

        found, size = factories.make_recording(factories.make_tune()), SOUND_MB << 20
        row = RecordingFile(
            recording=found, rights="our own", media_type="audio/wav", size=size, duration=60.0, digest="ab" * 32
        )
        row.file.save("x", ContentFile(bytes(size)), save=False)
        row.save()
        return reverse("tunes:recording-sound", args=[found.pk]).lstrip("/")

    @contextmanager
    def worker(self) -> Iterator[None]:
        """The worker, where there is something for it."""
        if not self.packs:
            yield
            return
        process = subprocess.Popen(
            [sys.executable, "manage.py", "worker"], cwd=ROOT, env=os.environ | {"TOPFORM_NO_VENV": "1"}
        )
        try:
            yield
        finally:
            process.terminate()
            process.wait(30)

    @contextmanager
    def server(self) -> Iterator[int]:
        """The web server as `serve` starts it; yields its port."""
        port = free_port()
        command = [sys.executable, "-m", *self.command(f"127.0.0.1:{port}")]
        process = subprocess.Popen(command, cwd=ROOT, start_new_session=True)
        try:
            _wait(port)
            for _ in range(self.options.processes):  # it listens before its pages are loaded
                Visitor(port, "").ask("GET", "livez")
            yield port
        finally:
            process.terminate()
            process.wait(20)

    def command(self, bind: str) -> list[str]:
        """What is run, after `python -m`."""
        return [
            "studio.webserver",
            "--bind",
            bind,
            "--processes",
            str(self.options.processes),
            "--threads",
            str(self.options.threads),
        ]

    def load(self, port: int) -> None:
        self.until = time.monotonic() + 3 + self.options.seconds
        self.warm = time.monotonic() + 3  # the first three seconds fill caches and are not counted
        threads = [threading.Thread(target=self.player, args=(port, n)) for n in range(self.options.players)]
        threads += [threading.Thread(target=self.instructor, args=(port, n)) for n in range(self.options.reviewers)]
        threads += [threading.Thread(target=self.listener, args=(port, n)) for n in range(self.options.listeners)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    def visitor(self, port: int, session: str, number: int) -> Visitor:
        """Somebody's browser; `number` is theirs among those of their kind."""
        return Visitor(port, session)

    def player(self, port: int, number: int) -> None:
        rng, seen = random.Random(number), {}
        visit = self.visitor(port, self.cookies[number], number)
        attempt, client, sequence = self.attempts[number], str(uuid.uuid4()), 0
        time.sleep(self.options.pause * number / self.options.players)
        self.timed("quiz page", visit, "GET", f"work/attempts/{attempt}/")
        while time.monotonic() < self.until:
            sequence += 1
            question, text = self.ids[sequence % FIELDS], rng.choice(TYPED)
            for part in (text[:2], text):
                self.timed(
                    "echo", visit, "GET", "work/echo/?" + urlencode({"kind": "function", "q": part, "home": "F major"})
                )
            body = {
                "client": client,
                "saves": [{"q": question, "text": text, "seq": sequence, "base": seen.get(question, 0)}],
            }
            answer = self.timed("save", visit, "POST", f"work/attempts/{attempt}/save/", body)
            if answer:
                result = json.loads(answer)["results"][0]
                seen[question] = result["version"]
                if (result["outcome"], result["text"]) != ("saved", text):
                    self.errors.append(f"save: {result}")
            self.timed("bare insert", visit, "POST", f"bare/{attempt}/", {"text": text})
            time.sleep(self.options.pause * (0.5 + rng.random()))

    def listener(self, port: int, number: int) -> None:
        """Hears the recording as a browser does: a megabyte, a pause, the next."""
        visit, at = self.visitor(port, self.cookies[number % len(self.cookies)], number), number
        while time.monotonic() < self.until:
            start = (at % SOUND_MB) << 20
            visit.headers["Range"] = f"bytes={start}-{start + (1 << 20) - 1}"
            self.timed("sound, 1 MB", visit, "GET", self.sound, wanted=206)
            at += 1
            time.sleep(0.5)

    def instructor(self, port: int, number: int = 0) -> None:
        visit, rng = self.visitor(port, self.leader_cookie, number), random.Random(number)
        while time.monotonic() < self.until:
            self.timed("queue", visit, "GET", "work/review/")
            self.timed("sheet", visit, "GET", f"work/review/{rng.choice(self.sheets)}/")
            self.timed("ensemble sheet", visit, "GET", f"work/assignments/steps/{self.step}/ensemble/")
            self.timed("ledger", visit, "GET", "work/ledger/")
            self.timed("assignment", visit, "GET", "work/assignments/")

    def timed(
        self, name: str, visit: Visitor, method: str, path: str, body: Any = None, *, wanted: int = 200
    ) -> bytes | None:
        start = time.perf_counter()
        try:
            status, content = visit.ask(method, path, body)
        except (OSError, http.client.HTTPException) as error:
            self.errors.append(f"{name}: {error!r}")
            return None
        took = (time.perf_counter() - start) * 1000
        with self.lock:
            if status != wanted:
                self.errors.append(f"{name}: {status}")
            elif time.monotonic() > self.warm:
                self.times[name].append(took)
        return content if status == wanted else None

    def report(self) -> int:
        print(
            f"\n{self.options.database}: {self.options.players} players, a rest of {self.options.pause} s between answers, "
            f"{self.options.seconds:.0f} s, {self.options.processes} processes x {self.options.threads} threads"
        )
        print(f"{'page':16}{'number':>8}{'p50 ms':>9}{'p95 ms':>9}{'worst':>9}")
        for name, times in sorted(self.times.items()):
            times.sort()
            print(f"{name:16}{len(times):8}{_at(times, 0.5):9.1f}{_at(times, 0.95):9.1f}{times[-1]:9.1f}")
        save, bare = (_at(self.times[name], 0.95) for name in ("save", "bare insert"))
        print(f"errors: {len(self.errors)}  {self.errors[:3] if self.errors else ''}")
        print(
            f"p95 save / p95 bare insert: {save / bare:.2f} (aim {AIM_RATIO}), p95 save {save:.0f} ms (aim {AIM_MS:.0f})"
        )
        print(f"p50 save / p50 bare insert: {_at(self.times['save'], 0.5) / _at(self.times['bare insert'], 0.5):.2f}")
        if self.packs:
            from studio.models import Job

            states = list(
                Job.objects.filter(pk__in=[pack.job_id for pack in self.packs]).values_list("state", "done", "total")
            )
            print(f"packs meanwhile (state, parts done, of): {states}")
        lost = self.lost()
        print(f"answers lost: {lost}", flush=True)
        return 1 if self.errors or lost else 0

    def lost(self) -> int:
        """Saves that were answered with 200 and are not in the history."""
        from assessments.models import AnswerHistory

        kept = AnswerHistory.objects.exclude(question="bare").filter(attempt__in=self.attempts).count()
        return max(0, len(self.times["save"]) - kept)


class Visitor:
    """One browser: a kept-open connection, a session, the token against forged forms."""

    def __init__(self, port: int, session: str) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        token = "a" * 32
        self.headers = {
            "Cookie": f"sessionid={session}; csrftoken={token}",
            "X-CSRFToken": token,
            "Connection": "keep-alive",
        }

    def ask(self, method: str, path: str, body: Any = None) -> tuple[int, bytes]:
        headers = dict(self.headers)
        data = None
        if body is not None:
            data, headers["Content-Type"] = json.dumps(body), "application/json"
        try:
            self.connection.request(method, f"/{path}", data, headers)
            response = self.connection.getresponse()
        except (http.client.RemoteDisconnected, BrokenPipeError, ConnectionResetError):
            self.connection.close()  # the server may close an idle connection at any time; a browser asks again
            self.connection.request(method, f"/{path}", data, headers)
            response = self.connection.getresponse()
        return response.status, response.read()


def _cookie(user: Any) -> str:
    from django.conf import settings
    from django.test import Client

    client = Client()
    client.force_login(user)
    return str(client.cookies[settings.SESSION_COOKIE_NAME].value)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _wait(port: int) -> None:
    for _ in range(200):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise SystemExit("The server did not start within 20 seconds.")


def _at(times: list[float], share: float) -> float:
    return sorted(times)[min(len(times) - 1, int(len(times) * share))] if times else float("nan")


if __name__ == "__main__":
    sys.exit(main())
