"""The start command as a person meets it: a real process, real ports, real folders."""

from __future__ import annotations

import ast
import os
import re
import signal
import socket
import sqlite3
import stat
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

ROOT = Path(settings.BASE_DIR)
PATIENCE = 90


def environment(data: Path, **extra: str) -> dict[str, str]:
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("TOPFORM_", "DJANGO_"))}
    return kept | {"TOPFORM_DATA": str(data), "PYTHONUNBUFFERED": "1"} | extra


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Site:
    """A started site and what it printed."""

    def __init__(self, data: Path, *command: str, **extra: str) -> None:
        self.port = free_port()
        self.process = subprocess.Popen(
            [sys.executable, "manage.py", *command, "--port", str(self.port), "--processes", "1"],
            cwd=ROOT,
            env=environment(data, **extra),
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self.lines: list[str] = []
        self.ended = False
        self.printed = threading.Condition()
        # Read all the time, as a terminal or a service manager does: a pipe that is full holds whoever writes a log line.
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()

    def _read(self) -> None:
        assert self.process.stdout
        for line in self.process.stdout:
            with self.printed:
                self.lines.append(line)
                self.printed.notify_all()
        with self.printed:
            self.ended = True
            self.printed.notify_all()

    def wait(self) -> Site:
        """Until it says that it runs."""
        with self.printed:
            said = self.printed.wait_for(lambda: self.runs() or self.ended, timeout=PATIENCE)
        assert said, "".join(self.lines)
        assert self.runs(), "".join(self.lines)
        return self

    def runs(self) -> bool:
        return any("Topform runs at" in line for line in self.lines)

    def get(self, path: str) -> tuple[int, str]:
        with urllib.request.urlopen(f"http://127.0.0.1:{self.port}{path}", timeout=10) as answer:
            return answer.status, answer.read().decode()

    def stop(self) -> str:
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        self.process.wait(timeout=PATIENCE)
        self.reader.join(timeout=PATIENCE)
        return "".join(self.lines)


def run(data: Path, *command: str, **extra: str) -> tuple[int, str]:
    """A start that ends by itself: its code and what it said."""
    done = subprocess.run(
        [sys.executable, "manage.py", *command],
        cwd=ROOT,
        env=environment(data, **extra),
        capture_output=True,
        text=True,
        timeout=PATIENCE,
    )
    return done.returncode, (done.stdout + done.stderr).strip()


@pytest.fixture
def sites() -> Iterator[list[Site]]:
    started: list[Site] = []
    yield started
    for site in started:
        site.stop()


def rows(data: Path, table: str) -> int:
    with sqlite3.connect(data / "topform.sqlite3") as database:
        return int(database.execute(f"select count(*) from {table}").fetchone()[0])


def test_an_empty_site_prints_a_setup_link_and_a_second_start_keeps_everything(
    tmp_path: Path, sites: list[Site]
) -> None:
    data = tmp_path / "data"
    site = Site(data, "serve")
    sites.append(site)
    site.wait()
    status, _ = site.get("/account/login/")
    assert status == 200
    code, said = run(data, "serve", "--port", str(free_port()))
    assert (code, "already running" in said, len(said.splitlines())) == (1, True, 1)
    said = site.stop()
    link = re.search(r"http://localhost:\d+(/setup/\S+/)", said)
    assert link
    assert "Everything is saved" in said
    assert stat.S_IMODE((data / "secret_key").stat().st_mode) == 0o600
    key = (data / "secret_key").read_text()

    again = Site(data, "serve").wait()
    sites.append(again)
    assert again.get(link[1])[0] == 200
    again.stop()
    assert (data / "secret_key").read_text() == key


def test_the_worker_runs_and_is_started_again_when_killed(tmp_path: Path, sites: list[Site]) -> None:
    site = Site(tmp_path, "serve").wait()
    sites.append(site)

    def worker_pid() -> int | None:
        with sqlite3.connect(tmp_path / "topform.sqlite3", timeout=5) as database:
            row = database.execute("select name from studio_workerbeat order by at desc limit 1").fetchone()
        return int(row[0].rpartition(":")[2]) if row else None

    def until(test) -> int:  # type: ignore[no-untyped-def]
        for _ in range(PATIENCE * 5):
            pid = worker_pid()
            if pid and test(pid):
                return pid
            time.sleep(0.2)
        raise AssertionError("no worker was seen")

    first = until(lambda pid: True)
    os.kill(first, signal.SIGKILL)
    assert until(lambda pid: pid != first)
    assert '"worker": "ok"' in site.get("/readyz")[1]


def test_a_port_in_use(tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        code, said = run(tmp_path, "serve", "--port", str(port))
    assert code == 1
    assert said.splitlines() == [said]
    assert f"Port {port} on 127.0.0.1 is in use" in said
    assert not (tmp_path / "topform.sqlite3").exists()


@pytest.mark.parametrize("place", ["{tmp}/file/data", "/proc/self", "/proc/topform"])
def test_a_folder_that_cannot_be_written(tmp_path: Path, place: str) -> None:
    """Places that are closed to root too, whom permissions do not stop."""
    (tmp_path / "file").write_text("not a folder")
    code, said = run(Path(place.format(tmp=tmp_path)), "serve")
    assert (code, len(said.splitlines())) == (1, 1)
    assert "Cannot write in" in said
    assert "TOPFORM_DATA" in said


@pytest.mark.parametrize(
    "content", [b"this is no database, but somebody's notes", b"SQLite format 3\x00" + b"\xff" * 4000]
)
def test_a_database_that_cannot_be_read_is_left_as_it_is(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "topform.sqlite3"
    path.write_bytes(content)
    code, said = run(tmp_path, "serve", "--port", str(free_port()))
    assert code == 1
    assert "cannot be used" in said
    assert "restore a backup" in said
    assert "Traceback" not in said
    assert path.read_bytes() == content


def test_a_database_of_a_newer_version(tmp_path: Path) -> None:
    run(tmp_path, "migrate", "-v0")
    with sqlite3.connect(tmp_path / "topform.sqlite3") as database:
        database.execute(
            "insert into django_migrations(app, name, applied) values ('studio', '9999_later', '2040-01-01')"
        )
    database.close()
    code, said = run(tmp_path, "serve", "--port", str(free_port()))
    assert (code, "newer version" in said, len(said.splitlines())) == (1, True, 1)


def test_a_half_made_database_is_finished_and_a_copy_kept(tmp_path: Path, sites: list[Site]) -> None:
    run(tmp_path, "migrate", "-v0", "studio", "0001")
    site = Site(tmp_path, "serve").wait()
    sites.append(site)
    assert site.get("/readyz")[1].startswith('{"database": "ok"')
    assert list((tmp_path / "backups").glob("*before-update.zip"))


def test_the_demo_stays_out_of_a_real_programme(tmp_path: Path) -> None:
    run(tmp_path, "migrate", "-v0")
    run(
        tmp_path,
        "shell",
        "-v0",
        "-c",
        "from studio.models import User; User.objects.create_user(email='a@x.example', name='A', password='three plain words')",
    )
    code, said = run(tmp_path, "demo", "--port", str(free_port()))
    assert (code, "real programme" in said) == (1, True)
    assert rows(tmp_path, "studio_user") == 1


def test_a_wrong_port_number(tmp_path: Path) -> None:
    code, said = run(tmp_path, "serve", "--port", "123456")
    assert (code, "is not a port" in said) == (1, True)


def test_a_missing_secret_file_is_named(tmp_path: Path) -> None:
    code, said = run(tmp_path, "serve", TOPFORM_SECRET_KEY_FILE=str(tmp_path / "nowhere"))
    assert (code, len(said.splitlines())) == (1, 1)
    assert "TOPFORM_SECRET_KEY_FILE names" in said


def test_an_old_python_is_told_so() -> None:
    code = (
        "import sys, runpy\nsys.version_info = (3, 9, 2, 'final', 0)\nsys.argv = ['manage.py', 'demo']\n"
        "runpy.run_path('manage.py', run_name='__main__')"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 1
    assert done.stderr.startswith("Python 3.11 or newer is needed; this is 3.9")


def test_old_pythons_can_read_the_first_file() -> None:
    ast.parse((ROOT / "manage.py").read_text(), feature_version=(3, 6))
