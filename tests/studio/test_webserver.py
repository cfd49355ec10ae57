"""The web server by itself: what arrives in halves, or is not read, holds no thread; a process that dies is replaced."""

from __future__ import annotations

import contextlib
import http.client
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from studio.webserver import listen

ROOT = Path(__file__).resolve().parent.parent.parent
HALVES = (
    b"GET /livez HTTP/1.1\r\nHost: localhost\r\nX-Half: ",
    b"POST /account/login/ HTTP/1.1\r\nHost: localhost\r\nContent-Length: 500\r\n\r\nlogin=",
)


@pytest.fixture
def server(tmp_path: Path) -> Iterator[tuple[int, subprocess.Popen[bytes]]]:
    """Two processes of two threads each; their port and the parent."""
    probe = listen("127.0.0.1:0")
    port = int(probe.getsockname()[1])
    probe.close()
    process = subprocess.Popen(
        [sys.executable, "-m", "studio.webserver", "--bind", f"127.0.0.1:{port}", "--processes", "2", "--threads", "2"],
        cwd=ROOT,
        env=os.environ | {"TOPFORM_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "studio.settings"},
    )
    try:
        until = time.monotonic() + 60
        while status(port) != 200 and time.monotonic() < until:
            time.sleep(0.2)
        yield port, process
    finally:
        process.terminate()
        process.wait(30)


def status(port: int) -> int | None:
    """Of the page that says that the server lives; None when it does not answer."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    with contextlib.closing(connection):
        try:
            connection.request("GET", "/livez", headers={"Host": "localhost"})
            return connection.getresponse().status
        except (OSError, http.client.HTTPException):
            return None


def test_half_requests_hold_no_thread(server: tuple[int, subprocess.Popen[bytes]]) -> None:
    port, _ = server
    with contextlib.ExitStack() as crowd:
        for number in range(40):
            one = crowd.enter_context(socket.create_connection(("127.0.0.1", port)))
            one.sendall(HALVES[number % 2])
        assert [status(port) for _ in range(10)] == [200] * 10


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="reads the process table of Linux")
def test_a_process_that_dies_is_replaced_and_all_end_with_their_parent(
    server: tuple[int, subprocess.Popen[bytes]],
) -> None:
    port, parent = server
    before = children(parent.pid)
    assert len(before) == 2
    os.kill(before[0], signal.SIGKILL)
    until = time.monotonic() + 60
    while before[0] in children(parent.pid) or len(children(parent.pid)) < 2:
        assert time.monotonic() < until
        time.sleep(0.2)
    assert [status(port) for _ in range(4)] == [200] * 4
    left = children(parent.pid)
    parent.kill()
    while any(Path(f"/proc/{pid}").is_dir() for pid in left):
        assert time.monotonic() < until
        time.sleep(0.2)


def children(parent: int) -> list[int]:
    return [int(pid) for pid in Path(f"/proc/{parent}/task/{parent}/children").read_text().split()]
