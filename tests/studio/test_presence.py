"""Who lives in the data folder: children go with a killed parent, and a restore waits for everybody."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from studio import bootstrap, presence
from studio.bootstrap import Stop
from tests.studio.test_start import ROOT, Site, environment, run

HOLD = "import sys, time, django; django.setup(); from django.db import connection; connection.ensure_connection(); print('in', flush=True); time.sleep(120)"


def processes_of(data: Path) -> list[int]:
    """Everything that runs with this data folder, read from the system's own list of processes."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit() and int(entry.name) != os.getpid():
            try:
                variables = (entry / "environ").read_bytes().split(b"\0")
            except OSError:  # gone meanwhile
                continue
            if f"TOPFORM_DATA={data}".encode() in variables:
                found.append(int(entry.name))
    return found


def until_gone(data: Path, patience: int = 40) -> bool:
    for _ in range(patience * 10):
        if not processes_of(data):
            return True
        time.sleep(0.1)
    return False


def archive_of(data: Path) -> str:
    code, said = run(data, "backup")
    assert code == 0, said
    return next(line for line in said.splitlines() if line.endswith(".zip"))


def test_a_killed_start_takes_its_servers_along_and_restore_waits_for_the_last(tmp_path: Path) -> None:
    site = Site(tmp_path, "serve").wait()
    archive = archive_of(tmp_path)
    children = [pid for pid in processes_of(tmp_path) if pid != site.process.pid]
    assert len(children) >= 3  # the web server, its process, the worker
    code, said = run(tmp_path, "restore", archive)
    assert (code, "Stop it first" in said, "worker" in said) == (1, True, True)
    site.process.kill()
    while processes_of(tmp_path):
        code, said = run(tmp_path, "restore", archive)
        if code == 0:
            break
        assert "Stop it first" in said
    site.stop()
    assert until_gone(tmp_path)
    assert run(tmp_path, "restore", archive)[0] == 0
    with socket.socket() as probe:
        assert probe.connect_ex(("127.0.0.1", site.port)) != 0


CHILD = "import os, sys, threading; threading.Thread(target=__import__('studio.tether').tether.end_with_parent, args=(0, 1.0)).start(); print('up', flush=True); threading.Event().wait()"


def test_a_child_ends_also_when_whoever_read_its_words_is_gone_too() -> None:
    """The fault that was: saying why it ends, into a pipe that nobody reads any more, kept the child alive."""
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        start_new_session=True,
    )
    assert child.stdout
    assert child.stdin
    assert child.stdout.readline() == b"up\n"
    child.stdout.close()
    child.stdin.close()
    try:
        assert child.wait(60) == -signal.SIGTERM
    finally:
        child.kill()


@pytest.mark.parametrize("way", ["shell", "script"])
def test_every_process_that_opens_the_database_keeps_a_restore_out(tmp_path: Path, way: str) -> None:
    assert run(tmp_path, "prepare")[0] == 0
    archive = archive_of(tmp_path)
    code = HOLD.replace("django.setup(); ", "") if way == "shell" else HOLD
    command = ["manage.py", "shell", "-v0", "-c", code] if way == "shell" else ["-c", code]
    extra = {"DJANGO_SETTINGS_MODULE": "studio.settings"}
    other = subprocess.Popen(
        [sys.executable, *command], cwd=ROOT, env=environment(tmp_path) | extra, stdout=subprocess.PIPE, text=True
    )
    try:
        assert other.stdout
        assert other.stdout.readline() == "in\n"
        code_, said = run(tmp_path, "restore", archive)
        assert (code_, f"process {other.pid}" in said) == (1, True)
        assert (tmp_path / "topform.sqlite3").exists()
    finally:
        os.kill(other.pid, signal.SIGKILL)
        other.communicate()
    code_, said = run(tmp_path, "restore", archive)
    assert code_ == 0, said


def test_nobody_comes_in_while_one_has_the_folder_alone(tmp_path: Path) -> None:
    """A site that is started in the middle of a restore is told so; it neither waits for ever nor writes."""
    assert run(tmp_path, "prepare")[0] == 0
    with presence.alone(tmp_path, "a test"):
        code, said = run(tmp_path, "shell", "-v0", "-c", "from studio.models import User; print(User.objects.count())")
        assert code == 1
        assert "a restore or an update is under way" in said
        with pytest.raises(Stop, match="must wait"), presence.alone(tmp_path, "another test"):
            raise AssertionError("two had it alone")
    assert run(tmp_path, "shell", "-v0", "-c", "from studio.models import User; print(User.objects.count())")[0] == 0


def test_the_file_of_a_killed_process_holds_nobody_up(tmp_path: Path) -> None:
    room = tmp_path / "running"
    room.mkdir()
    (room / "serve.4711.desk.abcd").touch()
    with presence.alone(tmp_path, "a test"):
        assert [path.name for path in room.iterdir()] == ["gate"]


def test_where_a_process_cannot_replace_itself_it_waits_for_its_child(monkeypatch: pytest.MonkeyPatch) -> None:
    """What Windows lacks, pretended: there is no `exec`, so the first process lends the second its place and its code."""
    calls: list[list[str]] = []
    monkeypatch.setattr(bootstrap, "venv_python", lambda: "venv/Scripts/python.exe")
    monkeypatch.setattr(bootstrap.subprocess, "call", lambda command: calls.append(command) or 3)
    with monkeypatch.context() as windows:
        windows.setattr(bootstrap.os, "name", "nt")
        with pytest.raises(SystemExit) as ended:
            bootstrap.reenter("manage.py", ["serve"])  # type: ignore[arg-type]
    assert ended.value.code == 3
    assert calls == [["venv/Scripts/python.exe", "manage.py", "serve"]]
