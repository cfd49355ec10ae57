"""Forty players who open the assignment's quiz at once: a site just started, real HTTP, real databases.

    .venv/bin/python tests/bench/opening.py                    both databases
    .venv/bin/python tests/bench/opening.py postgres --players 40 --minute 60

The site is started by `manage.py serve`, as the README says, worker included. Three rounds, each with a quiz that nobody has
begun: within one second straight after the start (everything cold), within one second again, and within a minute. Each
player presses "Begin" (a POST that redirects) and gets the page of the quiz; beside it, in the same run, a bare page for the
same people within the same second. Prints p50 and p95 in milliseconds, ratios to the bare page, errors. Aim: p95 of the
page at most 1,500 ms.
"""

from __future__ import annotations

import argparse
import contextlib
import random
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))
from tests.bench.crash_site import environment  # noqa: E402
from tests.bench.load import CHART, Visitor, _at, _cookie  # noqa: E402

AIM_MS = 1500.0
START = 90
ROUNDS = (("within a second, cold", "cold"), ("within a second", "second"), ("within a minute", "minute"))


class Opening:
    def __init__(self, options: argparse.Namespace) -> None:
        self.options, self.folder = options, Path(tempfile.mkdtemp(prefix="topform-opening-"))
        self.times: dict[str, list[float]] = defaultdict(list)
        self.errors: list[str] = []

    def go(self) -> int:
        try:
            self.prepare()
            with self.site() as port:
                for _, name in ROUNDS:
                    self.everyone(port, name, self.options.minute if name == "minute" else 1.0)
                self.everyone(port, "bare", 1.0)
            return self.report()
        finally:
            shutil.rmtree(self.folder, ignore_errors=True)

    def prepare(self) -> None:
        """One ensemble, an assignment with a quiz for each round, one session for each player."""
        import os

        os.environ |= environment(self.folder)
        if self.options.database == "postgres":
            from tests import postgres

            os.environ |= {"TOPFORM_DB_HOST": postgres.start(), "TOPFORM_DB_NAME": "postgres"}
        subprocess.run([sys.executable, "manage.py", "prepare"], cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
        import django

        django.setup()
        from django.db import connections

        from tests import factories

        ensemble = factories.make_ensemble()
        revision = factories.make_chart_revision(text=CHART)
        made = factories.make_assignment(
            ensemble, revision=revision, kinds=("function",) * len(ROUNDS), ask_repeats=True
        )
        self.steps = dict(zip([name for _, name in ROUNDS], made.steps.values_list("pk", flat=True), strict=True))
        self.cookies = [_cookie(factories.make_player(ensemble)) for _ in range(self.options.players)]
        factories.make_director()
        connections.close_all()

    @contextmanager
    def site(self) -> Iterator[int]:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = int(probe.getsockname()[1])
        command = [sys.executable, "manage.py", "serve", "--port", str(port)]
        process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL)
        try:
            self.wait_ready(process, port)
            yield port
        finally:
            process.terminate()
            process.wait(30)

    def wait_ready(self, process: subprocess.Popen[bytes], port: int) -> None:
        """Until the site answers at all; no page that is measured is asked for."""
        until = time.monotonic() + START
        while time.monotonic() < until and process.poll() is None:
            with contextlib.suppress(OSError):
                if Visitor(port, "").ask("GET", "livez")[0] == 200:
                    return
            time.sleep(0.2)
        raise SystemExit(f"The site did not start within {START} seconds.")

    def everyone(self, port: int, name: str, within: float) -> None:
        rng, begun = random.Random(name), time.monotonic() + 0.5
        moments = sorted(begun + within * rng.random() for _ in self.cookies)
        work = [
            threading.Thread(target=self.one, args=(port, name, cookie, moment))
            for cookie, moment in zip(self.cookies, moments, strict=True)
        ]
        for thread in work:
            thread.start()
        for thread in work:
            thread.join()

    def one(self, port: int, name: str, cookie: str, moment: float) -> None:
        try:
            visit = Visitor(port, cookie)
            time.sleep(max(0.0, moment - time.monotonic()))
            if name == "bare":
                self.timed("bare page", visit, "welcome", 200)
                return
            where = self.timed(f"begin {name}", visit, f"work/steps/{self.steps[name]}/start/", 302, post=True)
            self.timed(f"quiz page {name}", visit, where.lstrip("/"), 200)
        except Exception as error:  # a thread that ends early is an error of the run, whatever it was
            self.errors.append(f"{name}: {error!r}")

    def timed(self, name: str, visit: Visitor, path: str, wanted: int, *, post: bool = False) -> str:
        start = time.perf_counter()
        connection = visit.connection
        connection.request("POST" if post else "GET", f"/{path}", b"" if post else None, visit.headers)
        response = connection.getresponse()
        response.read()
        self.times[name].append((time.perf_counter() - start) * 1000)
        if response.status != wanted:
            raise RuntimeError(f"{path}: {response.status}")
        return response.headers.get("Location", "")

    def report(self) -> int:
        bare = self.times["bare page"]
        print(f"\n{self.options.database}: {self.options.players} players, a quiz of 32 bars, manage.py serve")
        print(f"{'what':26}{'number':>8}{'p50 ms':>9}{'p95 ms':>9}{'worst':>9}{'p95/bare':>10}")
        for name, times in self.times.items():
            ratio = _at(times, 0.95) / _at(bare, 0.95)
            print(f"{name:26}{len(times):8}{_at(times, 0.5):9.0f}{_at(times, 0.95):9.0f}{max(times):9.0f}{ratio:10.2f}")
        worst = max(_at(self.times[f"quiz page {name}"], 0.95) for _, name in ROUNDS)
        print(f"errors: {len(self.errors)}  {self.errors[:3] if self.errors else ''}")
        print(f"worst p95 of the page: {worst:.0f} ms (aim {AIM_MS:.0f})", flush=True)
        return 1 if self.errors or worst > AIM_MS else 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("database", nargs="?", choices=("sqlite", "postgres", "both"), default="both")
    parser.add_argument("--players", type=int, default=40)
    parser.add_argument("--minute", type=float, default=60.0, help="seconds of the last round")
    options = parser.parse_args()
    if options.database == "both":
        rest = [word for word in sys.argv[1:] if word != "both"]
        return max(subprocess.call([sys.executable, __file__, name, *rest]) for name in ("sqlite", "postgres"))
    return Opening(options).go()


if __name__ == "__main__":
    sys.exit(main())
