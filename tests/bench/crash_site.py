"""A real site in a folder of its own for `crash.py`: players who save, send and hand in, and keep what was acknowledged.

`python tests/bench/crash_site.py FOLDER` fills an empty site and prints what the players need, as JSON.
"""

from __future__ import annotations

import contextlib
import hashlib
import http.client
import json
import os
import random
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

KEY = "only-for-this-measurement-0123456789-0123456789"
PLAYERS, HAND_INS, STEPS = 4, 24, 8
PATIENCE = 60.0
CHART = "key: F major\n[A]\n" + "| Fmaj7 | D7 | Gm7 | C7 |\n" * 8
prepared: dict[str, Any] = {}


class Skip(Exception):
    """This fault needs something that the machine has not."""


def environment(folder: Path, **more: str) -> dict[str, str]:
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("TOPFORM_", "DJANGO_"))}
    return (
        kept
        | {
            "TOPFORM_DATA": str(folder),
            "TOPFORM_NO_VENV": "1",
            "TOPFORM_SECRET_KEY": KEY,
            "PYTHONUNBUFFERED": "1",
            "TOPFORM_LOG": "ERROR",
            "DJANGO_SETTINGS_MODULE": "studio.settings",
        }
        | more
    )


def prepare_once() -> None:
    """A filled site, and one whose newest migrations are still to come; every try starts from a copy."""
    room = Path(tempfile.mkdtemp(prefix="topform-crash-"))
    prepared["room"] = room
    prepared["people"] = _fill(room / "filled")
    shutil.copytree(room / "filled", room / "older", ignore=shutil.ignore_patterns("running", "starting"))
    for app in ("assessments", "drills", "tunes", "studio"):
        names = sorted(path.stem for path in (ROOT / app / "migrations").glob("0*.py"))
        if len(names) > 1:  # those that cannot be undone stay
            subprocess.run(
                [sys.executable, "manage.py", "migrate", "-v0", app, names[-2]],
                cwd=ROOT,
                env=environment(room / "older"),
                stderr=subprocess.DEVNULL,
            )


def _fill(folder: Path, **more: str) -> dict[str, Any]:
    folder.mkdir(parents=True, exist_ok=True)
    subprocess.run(
        [sys.executable, "manage.py", "prepare"],
        cwd=ROOT,
        env=environment(folder, **more),
        check=True,
        stdout=subprocess.DEVNULL,
    )
    done = subprocess.run(
        [sys.executable, __file__, str(folder)],
        cwd=ROOT,
        env=environment(folder, **more),
        check=True,
        stdout=subprocess.PIPE,
        text=True,
    )
    return dict(json.loads(done.stdout.splitlines()[-1]))


def fill() -> dict[str, Any]:
    """Inside the process with the site's settings: players with attempts, and steps that take files."""
    import django

    django.setup()
    from assessments.services.hand_in import start_attempt
    from studio.launch import prepare_static
    from tests import factories
    from tests.bench.load import _cookie

    ensemble = factories.make_ensemble()
    leader = factories.make_instructor(ensemble)
    step = factories.make_assignment(
        ensemble, by=leader, revision=factories.make_chart_revision(text=CHART)
    ).steps.get()
    files = factories.make_assignment(ensemble, by=leader, kinds=("hand-in",) * STEPS)
    players = [factories.make_player(ensemble) for _ in range(PLAYERS + HAND_INS)]
    attempts = [start_attempt(step=step, player=player).pk for player in players]
    factories.make_director()
    prepare_static()
    return {
        "cookies": [_cookie(player) for player in players],
        "attempts": attempts,
        "ids": list(step.quiz.ids),
        "steps": list(files.steps.values_list("pk", flat=True)),
    }


class House:
    """One try: a copy of the filled site, its processes, and what its players were told is saved."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.folder, self.random = folder, random.Random(seed)
        self.people, self.extra = prepared["people"], {}
        self.acknowledged: list[tuple[str, ...]] = []
        self.seen: Counter[int] = Counter()
        self.errors, self.wrong = 0, []  # type: ignore[var-annotated]
        self.site: Any = None
        self.port, self.sequence, self.sound = 0, 0, prepared.setdefault("sound", _sound())
        self.guard, self.saved = threading.Lock(), 0
        shutil.copytree(
            prepared["room"] / "filled",
            folder,
            dirs_exist_ok=True,
            ignore=shutil.ignore_patterns("running", "starting", "reserve"),
        )
        (folder / "media").mkdir(exist_ok=True)
        if shutil.disk_usage(folder).total > 1 << 30:  # something for backups and restores to be in the middle of
            for number in range(6):
                (folder / "media" / f"sound{number}").write_bytes(self.random.randbytes(4 << 20))

    # --- processes

    def command(self, *words: str) -> tuple[int, str]:
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=environment(self.folder, **self.extra),
            capture_output=True,
            text=True,
        )
        return done.returncode, done.stdout + done.stderr

    def spawn(self, *words: str) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=environment(self.folder, **self.extra),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def moment(self, number: int, longest: float = 3.0) -> float:
        """When to kill a command: spread from its start to about its end."""
        return 0.5 + (longest - 0.5) * (number % 10 + self.random.random()) / 10

    def backup(self) -> Path:
        code, said = self.command("backup")
        if code:
            raise RuntimeError(said)
        return Path(next(line for line in said.splitlines() if line.endswith(".zip")))

    def start(self, **more: str) -> None:
        """Start the site and wait until it answers; killed processes of an earlier try may hold the port for a moment."""
        self.extra |= more
        if self.site and self.site.poll() is None:
            return
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = int(probe.getsockname()[1])
        log = open(prepared["room"] / "log", "ab")  # noqa: SIM115 (the process keeps it)
        command = [sys.executable, "manage.py", "serve", "--port", str(self.port), "--processes", "2"]
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            self.site = subprocess.Popen(
                command, cwd=ROOT, env=environment(self.folder, **self.extra), stdout=log, stderr=log
            )
            while self.site.poll() is None and time.monotonic() < until:
                if self.get("/livez") == 200:
                    return
                time.sleep(0.05)
            time.sleep(0.2)
        raise RuntimeError("the site did not start")

    def living(self) -> list[int]:
        """Every process that works with this folder, but for commands that are asked for here."""
        found = []
        for entry in Path("/proc").iterdir():
            with contextlib.suppress(OSError):
                if entry.name.isdigit() and f"TOPFORM_DATA={self.folder}".encode() in (
                    entry / "environ"
                ).read_bytes().split(b"\0"):
                    found.append(int(entry.name))
        return found

    def kill_web(self) -> None:
        """Kill the web server and its processes, every second time the whole site."""
        whole = self.random.random() < 0.5
        for pid in self.living():
            with contextlib.suppress(OSError):
                if (
                    whole
                    or b"gunicorn" in Path(f"/proc/{pid}/cmdline").read_bytes()
                    or b"studio." in Path(f"/proc/{pid}/cmdline").read_bytes()
                ):
                    os.kill(pid, signal.SIGKILL)

    def recover(self) -> float:
        begun = time.monotonic()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.site.wait(30)
        self.start()
        self.until_saved()
        return time.monotonic() - begun

    def close(self) -> None:
        if self.site and self.site.poll() is None:
            self.site.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                self.site.wait(25)
        for pid in self.living():
            with contextlib.suppress(OSError):
                os.kill(pid, signal.SIGKILL)

    # --- people

    def get(self, path: str) -> int:
        try:
            return self._send("GET", path)[0]
        except (OSError, http.client.HTTPException):
            return 0

    def _send(
        self, method: str, path: str, body: bytes | None = None, kind: str = "", who: int = 0
    ) -> tuple[int, bytes]:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        headers = {"Cookie": f"sessionid={self.people['cookies'][who]}; csrftoken={'a' * 32}", "X-CSRFToken": "a" * 32}
        try:
            connection.request(method, path, body, headers | ({"Content-Type": kind} if kind else {}))
            answer = connection.getresponse()
            return answer.status, answer.read()
        finally:
            connection.close()

    def _try(self, what: tuple[str, ...], path: str, body: bytes, kind: str, who: int, good: int) -> bool:
        """Send once; True when it was acknowledged, and then it is written down."""
        try:
            status, _ = self._send("POST", path, body, kind, who)
        except (OSError, http.client.HTTPException):
            return False
        with self.guard:
            self.seen[status] += 1
            self.errors += status == 500
            if status == good:
                self.acknowledged.append(what)
                self.saved += 1
        return status == good

    def _answer(self, who: int, client: str, sequence: int) -> tuple[tuple[str, ...], str, bytes, str, int, int]:
        attempt, question = self.people["attempts"][who], self.people["ids"][sequence % len(self.people["ids"])]
        text = f"{sequence} of 2"
        body = json.dumps(
            {"client": client, "saves": [{"q": question, "text": text, "seq": sequence, "base": 1 << 20}]}
        ).encode()
        return (
            ("answer", str(attempt), client, str(sequence), text),
            f"/work/attempts/{attempt}/save/",
            body,
            "application/json",
            who,
            200,
        )

    @contextlib.contextmanager
    def _crowd(self, target: Callable[[int, threading.Event], None], number: int) -> Iterator[None]:
        stop = threading.Event()
        threads = [threading.Thread(target=target, args=(who, stop), daemon=True) for who in range(number)]
        for thread in threads:
            thread.start()
        try:
            yield
        finally:
            stop.set()
            for thread in threads:
                thread.join(40)

    def writers(self, number: int) -> contextlib.AbstractContextManager[None]:
        """Players who save an answer every moment, and send it again until it is taken, as the page does."""

        def write(who: int, stop: threading.Event) -> None:
            client, sequence = str(uuid.uuid4()), 0
            while not stop.is_set():
                sequence += 1
                while not self._try(*self._answer(who, client, sequence)) and not stop.wait(0.3):
                    continue
                stop.wait(0.05)

        return self._crowd(write, number)

    def uploaders(self, number: int) -> contextlib.AbstractContextManager[None]:
        def send(who: int, stop: threading.Event) -> None:
            for place in range(who, STEPS * HAND_INS, number):
                step, player = self.people["steps"][place % STEPS], PLAYERS + place // STEPS
                token = str(uuid.UUID(int=self.random.getrandbits(128)))
                body, kind = _form({"token": token, "note": "bar 17"}, self.sound)
                while not stop.is_set() and not self._try(
                    ("file", token), f"/work/steps/{step}/", body, kind, player, 302
                ):
                    stop.wait(0.3)

        return self._crowd(send, number)

    def hand_ins(self) -> contextlib.AbstractContextManager[None]:
        def hand(who: int, stop: threading.Event) -> None:
            for player in range(PLAYERS + who, PLAYERS + HAND_INS, 2):
                attempt = self.people["attempts"][player]
                for sequence in range(1, 4):
                    if not stop.is_set():
                        self._try(*self._answer(player, str(uuid.uuid4()), sequence))
                while not stop.is_set() and not self._try(
                    ("hand-in", str(attempt)),
                    f"/work/attempts/{attempt}/hand-in/",
                    b"x=1",
                    "application/x-www-form-urlencoded",
                    player,
                    302,
                ):
                    stop.wait(0.3)

        return self._crowd(hand, 2)

    def write(self, number: int) -> None:
        """Some saves: by the site when it runs, else straight into the database as another process would."""
        for _ in range(number):
            self.sequence += 1
            client = str(uuid.uuid4())
            if self.site:
                self._try(*self._answer(0, client, self.sequence))
                continue
            with contextlib.closing(sqlite3.connect(self.folder / "topform.sqlite3")) as database:
                database.execute(
                    "INSERT INTO assessments_answerhistory(attempt_id, question, text, version, client, sequence, outcome, saved) "
                    "VALUES (?, 'b1.0', 'x', 1, ?, ?, 'saved', '2026-01-01')",
                    (self.people["attempts"][0], client.replace("-", ""), self.sequence),
                )
                database.commit()
            self.acknowledged.append(("answer", str(self.people["attempts"][0]), client, str(self.sequence), "x"))

    def until_saved(self) -> None:
        """Until one more save is acknowledged."""
        before, until = self.saved, time.monotonic() + PATIENCE
        client = str(uuid.uuid4())
        while self.saved == before:
            self.sequence += 1
            self._try(*self._answer(0, client, self.sequence))
            if time.monotonic() > until:
                self.wrong.append(f"nothing is saved after {PATIENCE} s: {dict(self.seen)}")
                return
            time.sleep(0.05)

    def until_ready(self, good: Callable[[dict[str, str]], bool]) -> None:
        until, said = time.monotonic() + PATIENCE, {}
        while time.monotonic() < until:
            with contextlib.suppress(OSError, http.client.HTTPException, ValueError):
                said = json.loads(self._send("GET", "/readyz")[1])
                if good(said):
                    return
            time.sleep(0.2)
        self.wrong.append(f"/readyz still says {said}")

    # --- what was done to it

    def step_back(self) -> None:
        now = {name: value for name, value in vars(self).items() if name == "acknowledged"}
        older = self.folder / "topform.sqlite3"
        for part in self.folder.glob("topform.sqlite3*"):
            part.unlink()
        shutil.copy(prepared["room"] / "older" / "topform.sqlite3", older)
        self.acknowledged.clear()
        self.write(len(now["acknowledged"]) or 5)

    def fill_disk(self, leave: int = 0) -> None:
        with open(self.folder / "ballast", "ab") as ballast, contextlib.suppress(OSError):
            while shutil.disk_usage(self.folder).free > leave:
                ballast.write(bytes(min(1 << 16, max(1, shutil.disk_usage(self.folder).free - leave))))
                ballast.flush()

    def free_disk(self) -> None:
        (self.folder / "ballast").unlink()

    def hurry_rounds(self) -> None:
        """As if the pause before the next try were over."""
        with contextlib.closing(sqlite3.connect(self.folder / "topform.sqlite3", timeout=10)) as database:
            database.execute("UPDATE studio_housekeeping SET next_try = NULL")
            database.commit()

    @contextlib.contextmanager
    def lock_database(self) -> Iterator[None]:
        with contextlib.closing(
            sqlite3.connect(self.folder / "topform.sqlite3", timeout=20, isolation_level=None)
        ) as other:
            other.execute("BEGIN IMMEDIATE")
            yield
            other.execute("ROLLBACK")

    def use_postgres(self) -> None:
        """The same people in a PostgreSQL cluster, made once."""
        from tests import postgres

        if "host" not in prepared:
            try:
                prepared["host"] = postgres.start()
            except RuntimeError as error:
                raise Skip(str(error)) from error
            prepared["people-postgres"] = _fill(
                prepared["room"] / "with-postgres", TOPFORM_DB_HOST=prepared["host"], TOPFORM_DB_NAME="postgres"
            )
        self.people = prepared["people-postgres"]
        self.extra = {"TOPFORM_DB_HOST": prepared["host"], "TOPFORM_DB_NAME": "postgres"}

    def postgres(self, *words: str) -> None:
        from tests import postgres

        postgres.control(prepared["host"], *words)

    # --- what is there

    def _rows(self, question: str) -> list[tuple[Any, ...]]:
        if self.extra.get("TOPFORM_DB_HOST"):
            import psycopg

            with psycopg.connect(host=prepared["host"], user="topform", dbname="postgres") as database:
                return database.execute(question).fetchall()  # type: ignore[arg-type]
        with contextlib.closing(sqlite3.connect(self.folder / "topform.sqlite3", timeout=20)) as database:
            return database.execute(question).fetchall()

    def lost(self) -> int:
        """How many acknowledged things are not there."""
        if not self.acknowledged:
            return 0
        answers = {
            (str(a), str(uuid.UUID(str(client))), str(sequence), text)
            for a, client, sequence, text in self._rows(
                "SELECT attempt_id, client, sequence, text FROM assessments_answerhistory"
            )
        }
        files = {
            str(uuid.UUID(str(token))): name
            for token, name in self._rows("SELECT token, file FROM assessments_submission")
        }
        closed = {str(row[0]) for row in self._rows("SELECT id FROM assessments_attempt WHERE status <> 'open'")}
        missing = 0
        for kind, *what in self.acknowledged:
            if kind == "answer":
                missing += tuple(what) not in answers
            elif kind == "hand-in":
                missing += what[0] not in closed
            else:
                path = self.folder / "media" / files.get(what[0], "nothing")
                missing += not (path.is_file() and path.read_bytes() == self.sound)
        return missing

    def fingerprint(self) -> str:
        """Of answers, people and files."""
        digest = hashlib.sha256(
            repr(
                [
                    self._rows("SELECT client, sequence, text FROM assessments_answerhistory ORDER BY id"),
                    self._rows("SELECT id, email FROM studio_user ORDER BY id"),
                ]
            ).encode()
        )
        for path in sorted((self.folder / "media").rglob("*")):
            if path.is_file():
                digest.update(
                    f"{path.relative_to(self.folder)}{hashlib.sha256(path.read_bytes()).hexdigest()}".encode()
                )
        return digest.hexdigest()

    def settle(self) -> None:
        """After a try has been counted: the next one in the same site counts its own."""
        self.acknowledged.clear()
        self.seen.clear()
        self.errors = 0
        self.wrong = []

    def forget_all(self) -> None:
        """A restore was asked for and done: what it replaced is in the folder moved aside."""
        self.acknowledged.clear()

    def expect(self, good: object, words: str) -> None:
        if not good:
            self.wrong.append(words)


def _sound() -> bytes:
    from tests import sounds

    return sounds.tone(12)


def _form(fields: dict[str, str], sound: bytes) -> tuple[bytes, str]:
    mark = uuid.uuid4().hex
    parts = [
        f'--{mark}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in fields.items()
    ]
    head = f'--{mark}\r\nContent-Disposition: form-data; name="file"; filename="take.wav"\r\nContent-Type: audio/wav\r\n\r\n'.encode()
    return b"".join([*parts, head, sound, f"\r\n--{mark}--\r\n".encode()]), f"multipart/form-data; boundary={mark}"


if __name__ == "__main__":
    print(json.dumps(fill()))
