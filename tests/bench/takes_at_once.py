"""Thirty takes at once: a real server, its worker, an ensemble that hands in while others answer and an instructor reviews.

    python -m tests.bench.takes_at_once                      SQLite
    python -m tests.bench.takes_at_once postgres --takes 30

The players of `tests.bench.load` work all the time. First the worker has nothing to do (quiet). Then every take (a drill of 60 s,
rendered here) is sent in the same moment to a server that does nothing (elsewhere: the senders use the same processors, and that is
none of the site's doing), then to the site (sending; who is turned away comes again, as the page does), then the worker hears them
until its queue is empty (hearing). Prints p95 of every page in each stretch and the ratio to the quiet one, how long the queue took,
and the most memory that the worker ever held.
Aims: the queue drains; pages within twice their quiet p95; 3 s of the worker for each take; under 300 MB.
"""

from __future__ import annotations

import argparse
import http.client
import io
import json
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
from tests.bench.load import ROOT, Run, Visitor, _at, _cookie, free_port

TEMPO, QUERY = 128, "kind=arpeggios&value=crotchets"  # 32 bars of four at 128: a minute
STRETCHES = ("quiet", "elsewhere", "sending", "hearing")
SENDING = (sys.executable, "-c", "from tests.bench.sending import main; main()")
KINDS = 6  # different renderings; the rest are the same again
PATIENCE = 600.0
AIM_RATIO, AIM_SECONDS, AIM_MB = 2.0, 3.0, 300.0


class Takes(Run):
    """The run of `load`, in three stretches."""

    def __init__(self, options: argparse.Namespace) -> None:
        super().__init__(options)
        self.sent: dict[str, list[dict[str, Any]]] = defaultdict(list)
        self.heard_for = 0.0
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
        for number, sound in enumerate(self.sounds):
            (self.folder / f"take-{number}").write_bytes(sound)
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
            for _ in range(self.options.rounds):
                self.send_nowhere()
                with self.within("sending"):
                    self.send(port)
                with self.within("hearing"):
                    self.drain()
            self.heard_for = (_used(self.hand.pid) - before) / self.options.rounds
        finally:
            self.until = 0.0

    @contextmanager
    def within(self, stretch: str) -> Iterator[None]:
        start, self.stretch = time.monotonic(), stretch
        try:
            yield
        finally:
            self.stretch = "between"
            self.stretches[stretch] += time.monotonic() - start

    def drain(self) -> None:
        from drills.advice.models import TakeAdvice

        until = time.monotonic() + PATIENCE
        while time.monotonic() < until and TakeAdvice.objects.filter(state=TakeAdvice.State.WAITING).exists():
            time.sleep(0.5)
        self.states = Counter(TakeAdvice.objects.values_list("state", flat=True))
        self.verdicts = Counter(
            note["verdict"] for row in TakeAdvice.objects.all() for note in row.data.get("notes") or ()
        )

    def send(self, port: int) -> None:
        """Every take at once, from a process of its own."""
        senders = [
            {"cookie": cookie, "sound": str(self.folder / f"take-{number % KINDS}"), "fields": {
                "kind": "drill", "revision": self.revision.pk, "query": QUERY, "tempo": TEMPO, "starts_at": 2.0,
                "heard_with": "click", "leak": -60, "token": str(uuid.uuid4()),
            }}
            for number, cookie in enumerate(self.senders)
        ]  # fmt: skip
        asked = self.folder / "senders.json"
        asked.write_text(json.dumps({"port": port, "path": "/drills/takes/new/", "senders": senders}))
        done = subprocess.run(
            [*SENDING, str(asked)],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        )
        found = json.loads(done.stdout)
        self.errors += found["errors"]
        self.sent[self.stretch].append(found)

    def send_nowhere(self) -> None:
        """The same to a server that does nothing with it: what the senders alone cost the pages."""
        port = free_port()
        nowhere = subprocess.Popen([*SENDING, "nowhere", str(port)], cwd=ROOT)
        try:
            time.sleep(2)
            with self.within("elsewhere"):
                self.send(port)
        finally:
            nowhere.terminate()
            nowhere.wait(10)

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
        print(f"{'p95 ms':16}" + "".join(f"{name:>11}" for name in (*STRETCHES, *STRETCHES[1:])) + "  times")
        for name in sorted(self.apart["quiet"]):
            found = [_at(self.apart[stretch][name], 0.95) for stretch in STRETCHES]
            print(
                f"{name:16}" + "".join(f"{value:11.1f}" for value in found)
                + "".join(f"{value / found[0]:11.2f}" for value in found[1:])
                + "  " + " ".join(str(len(self.apart[stretch][name])) for stretch in STRETCHES)
            )  # fmt: skip
        every = [[v for rows in self.apart[stretch].values() for v in rows] for stretch in STRETCHES]
        for stretch in ("elsewhere", "sending"):
            sent = [ms for one in self.sent[stretch] for ms in one["times"]]
            print(
                f"a take sent, {stretch}: p50 {_at(sent, 0.5):.0f} ms, slowest {max(sent, default=0):.0f} ms; "
                f"{sum(one['turned_away'] for one in self.sent[stretch])} times told to come again; "
                f"the senders used {sum(one['used'] for one in self.sent[stretch]):.2f} s of processor"
            )
        quiet, elsewhere, sending, hearing = (_at(rows, 0.95) for rows in every)
        print(
            f"all pages together against quiet: sending {sending / quiet:.2f}, hearing {hearing / quiet:.2f} (aim {AIM_RATIO:.0f}); "
            f"the senders alone, to a server that does nothing: {elsewhere / quiet:.2f}; sending against that {sending / elsewhere:.2f}"
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
    parser.add_argument("--rounds", type=int, default=1, help="how often all is sent and heard")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--threads", type=int, default=8)
    parser.add_argument("--reviewers", type=int, default=1)
    return Takes(parser.parse_args()).go()


if __name__ == "__main__":
    sys.exit(main())
