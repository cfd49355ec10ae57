"""Thirty takes at once: a real server, its worker, an ensemble that hands in while others answer and an instructor reviews.

    python -m tests.bench.takes_at_once                      SQLite
    python -m tests.bench.takes_at_once postgres --takes 30

The players of `tests.bench.load` work all the time. First the worker has nothing to do (quiet), then every take (a drill of 60 s,
rendered here) is sent in the same moment (who is turned away comes again, as the page does), then the worker hears them until its queue is empty. Prints p95 of every page in the three
stretches and the ratio to the quiet one, how long the queue took, and the most memory that the worker ever held.
Aims: the queue drains; pages within twice their quiet p95; 3 s of the worker for each take; under 300 MB.
"""

from __future__ import annotations

import argparse
import http.client
import io
import os
import random
import subprocess
import sys
import threading
import time
import uuid
import wave
from collections import Counter, defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from tests import tones as t
from tests.bench.load import ROOT, Run, Visitor, _at, _cookie

TEMPO, QUERY = 128, "kind=arpeggios&value=crotchets"  # 32 bars of four at 128: a minute
TAKE = "a take sent"
STRETCHES = ("quiet", "sending", "hearing")
KINDS = 6  # different renderings; the rest are the same again
PATIENCE = 600.0
AIM_RATIO, AIM_SECONDS, AIM_MB = 2.0, 3.0, 300.0


class Takes(Run):
    """The run of `load`, in three stretches."""

    def __init__(self, options: argparse.Namespace) -> None:
        super().__init__(options)
        self.turned_away = 0
        self.stretch, self.stretches = "warm", dict.fromkeys(STRETCHES, 0.0)
        self.apart: dict[str, dict[str, list[float]]] = {name: defaultdict(list) for name in STRETCHES}

    def _people(self) -> None:
        from drills.hearing.extra import available
        from drills.takes.making import plan_named
        from studio.models import User
        from tests import factories
        from tunes.models import ChartRevision

        if not available():
            raise SystemExit("Nothing listens here: install requirements-hearing.txt.")
        super()._people()
        self.revision = ChartRevision.objects.order_by("pk").first()
        ensemble = factories.make_ensemble()
        players = [factories.make_player(ensemble) for _ in range(self.options.takes)]
        plan = plan_named(players[0], kind="drill", revision=self.revision.pk, line=None, query=QUERY, tempo=TEMPO)
        self.sounds = [rendered(plan.sound["notes"], number) for number in range(KINDS)]
        self.senders = [_cookie(User.objects.get(pk=one.pk)) for one in players]
        from django.db import connections

        connections.close_all()

    @contextmanager
    def worker(self) -> Iterator[None]:
        command = [sys.executable, "manage.py", "worker"]
        self.hand = subprocess.Popen(command, cwd=ROOT, env=os.environ | {"TOPFORM_NO_VENV": "1"})
        try:
            yield
        finally:
            self.most = _most_memory(self.hand.pid)
            self.hand.terminate()
            self.hand.wait(30)

    def load(self, port: int) -> None:
        self.until, self.warm = float("inf"), 0.0
        guide = threading.Thread(target=self.guide, args=(port,))
        guide.start()
        threads = [threading.Thread(target=self.player, args=(port, n)) for n in range(self.options.players)]
        threads += [threading.Thread(target=self.instructor, args=(port, n)) for n in range(self.options.reviewers)]
        for thread in threads:
            thread.start()
        for thread in [guide, *threads]:
            thread.join()

    def guide(self, port: int) -> None:
        """From stretch to stretch, whatever happens in one: the others wait for its end."""
        try:
            time.sleep(5)
            self.idle = _most_memory(self.hand.pid)
            with self.within("quiet"):
                time.sleep(self.options.seconds)
            before = _used(self.hand.pid)
            with self.within("sending"):
                senders = [
                    threading.Thread(target=self.send, args=(port, number)) for number in range(len(self.senders))
                ]
                for one in senders:
                    one.start()
                for one in senders:
                    one.join()
            with self.within("hearing"):
                self.drain()
            self.heard_for = _used(self.hand.pid) - before
        finally:
            self.until = 0.0

    @contextmanager
    def within(self, stretch: str) -> Iterator[None]:
        start, self.stretch = time.monotonic(), stretch
        try:
            yield
        finally:
            self.stretch, self.stretches[stretch] = "between", time.monotonic() - start

    def drain(self) -> None:
        from drills.advice.models import TakeAdvice

        until = time.monotonic() + PATIENCE
        while time.monotonic() < until and TakeAdvice.objects.filter(state=TakeAdvice.State.WAITING).exists():
            time.sleep(0.5)
        self.states = Counter(TakeAdvice.objects.values_list("state", flat=True))
        self.verdicts = Counter(
            note["verdict"] for row in TakeAdvice.objects.all() for note in row.data.get("notes") or ()
        )

    def send(self, port: int, number: int) -> None:
        visit = Visitor(port, self.senders[number])
        fields = {"kind": "drill", "revision": self.revision.pk, "query": QUERY, "tempo": TEMPO, "starts_at": 2.0,
                  "heard_with": "click", "leak": -60, "token": uuid.uuid4()}  # fmt: skip
        body, kind = _form(fields, self.sounds[number % KINDS])
        start = time.perf_counter()
        visit.connection.timeout = 120
        rng, status, said = random.Random(number), 429, b""
        while status == 429:  # as the page does: turned away, it comes again
            visit.connection.request("POST", "/drills/takes/new/", body, visit.headers | {"Content-Type": kind})
            response = visit.connection.getresponse()
            status, said = response.status, response.read()
            if status == 429:
                with self.lock:
                    self.turned_away += 1
                time.sleep(2 * (0.5 + rng.random()))
        if status != 201:
            self.errors.append(f"take: {status} {said[:200]!r}")
        with self.lock:
            self.apart["sending"][TAKE].append((time.perf_counter() - start) * 1000)

    def timed(
        self, name: str, visit: Visitor, method: str, path: str, body: Any = None, *, wanted: int = 200
    ) -> bytes | None:
        start, stretch = time.perf_counter(), self.stretch
        try:
            status, content = visit.ask(method, path, body)
        except (OSError, http.client.HTTPException) as error:
            self.errors.append(f"{name}: {error!r}")
            return None
        with self.lock:
            if status != wanted:
                self.errors.append(f"{name}: {status}")
            elif stretch in self.apart:
                self.apart[stretch][name].append((time.perf_counter() - start) * 1000)
        return content if status == wanted else None

    def report(self) -> int:
        sizes = ", ".join(f"{len(sound) / 1000:.0f}" for sound in self.sounds[:2])
        print(
            f"\n{self.options.database}: {len(self.senders)} takes of a minute ({sizes} ... kB) sent at once; beside them "
            f"{self.options.players} players, a rest of {self.options.pause} s, {self.options.reviewers} instructor; "
            + ", ".join(f"{name} {seconds:.0f} s" for name, seconds in self.stretches.items())
        )
        print(f"{'p95 ms':16}" + "".join(f"{name:>12}" for name in STRETCHES) + f"{'sending':>12}{'hearing':>9}  times")
        for name in sorted(self.apart["quiet"]):
            found = [_at(self.apart[stretch][name], 0.95) for stretch in STRETCHES]
            print(
                f"{name:16}" + "".join(f"{value:12.1f}" for value in found)
                + f"{found[1] / found[0]:12.2f}{found[2] / found[0]:9.2f}  ({len(self.apart['quiet'][name])}, "
                f"{len(self.apart['sending'][name])}, {len(self.apart['hearing'][name])})"
            )  # fmt: skip
        every = [
            [v for name, rows in self.apart[stretch].items() for v in rows if name != TAKE] for stretch in STRETCHES
        ]
        sent = self.apart["sending"][TAKE]
        print(
            f"a take sent: p50 {_at(sent, 0.5):.0f} ms, slowest {max(sent, default=0):.0f} ms; {self.turned_away} times told to come again"
        )
        quiet, sending, hearing = (_at(rows, 0.95) for rows in every)
        print(
            f"all pages together against quiet: sending {sending / quiet:.2f}, hearing {hearing / quiet:.2f} (aim {AIM_RATIO:.0f})"
        )
        print(f"advice: {dict(self.states)}; notes: {dict(self.verdicts)}")
        print(
            f"worker: {self.heard_for / max(1, len(self.senders)):.2f} s of processor for a take (aim {AIM_SECONDS:.0f}), at most {self.most:.0f} MB "
            f"(aim {AIM_MB:.0f}), of it {self.idle:.0f} MB before the first"
        )
        print(f"errors: {len(self.errors)}  {self.errors[:3] if self.errors else ''}", flush=True)
        return 1 if self.errors or self.states.get("waiting") else 0


def rendered(notes: list[list[float]], seed: int) -> bytes:
    """A drill played by arithmetic, with a few faults, as a browser records it."""
    from tunes.audio import as_webm

    rng = random.Random(seed)
    kind = t.KINDS["saxophone"]
    made = np.random.default_rng(seed)
    planted = t.plant(rng, [(start, length, int(midi)) for start, length, midi in notes], float(TEMPO), 0.03)
    sound = t.take(t.played(rng, planted), lambda length, midi: t.tone(kind, length, midi, made), rng=made)
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setparams((1, 2, t.RATE, len(sound), "NONE", ""))
        file.writeframes(np.round(np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes())
    return as_webm(io.BytesIO(out.getvalue()))


def _form(fields: dict[str, Any], sound: bytes) -> tuple[bytes, str]:
    """A form with a file as a browser sends it (RFC 7578), and its media type."""
    line = uuid.uuid4().hex
    parts = [
        f'--{line}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in fields.items()
    ]
    head = f'--{line}\r\nContent-Disposition: form-data; name="file"; filename="take.webm"\r\nContent-Type: audio/webm\r\n\r\n'
    return b"".join(
        [*parts, head.encode(), sound, f"\r\n--{line}--\r\n".encode()]
    ), f"multipart/form-data; boundary={line}"


def _most_memory(pid: int) -> float:
    """The most memory a process ever held, MB (Linux: VmHWM of proc(5))."""
    rows = Path(f"/proc/{pid}/status").read_text().splitlines()
    return next(int(row.split()[1]) / 1024 for row in rows if row.startswith("VmHWM"))


def _used(pid: int) -> float:
    """Seconds of processor of a process (utime and stime of proc(5))."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("database", nargs="?", choices=("sqlite", "postgres"), default="sqlite")
    parser.add_argument("--takes", type=int, default=30)
    parser.add_argument("--players", type=int, default=10)
    parser.add_argument("--seconds", type=float, default=30.0, help="of the quiet stretch")
    parser.add_argument("--pause", type=float, default=2.0)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--threads", type=int, default=8)
    parser.add_argument("--reviewers", type=int, default=1)
    return Takes(parser.parse_args()).go()


if __name__ == "__main__":
    sys.exit(main())
