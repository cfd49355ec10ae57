"""The web server: `python -m studio.webserver --bind HOST:PORT --processes N --threads M`.

One loop in each process reads requests and writes answers for every connection; a thread works only on a request that
has arrived whole, and hands its answer back to the loop. So a half-sent request or a listener that does not drain holds
no thread, and is closed after `IDLE` seconds without a byte. The processes share one listening socket; where a system
cannot hand a socket down (Windows), there is one process.
"""

from __future__ import annotations

import argparse
import logging
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from types import FrameType
from typing import Any

IDLE = 30  # seconds without a byte until a connection is closed
CONNECTIONS = 2000  # of one process, those that wait included
BACKLOG = 1024
SHARE = "TOPFORM_WEB_SOCKET"  # the number of the socket that a process was handed
WINDOWS = os.name == "nt"


def main() -> None:
    parser = argparse.ArgumentParser(description="The web server of the site.")
    parser.add_argument("--bind", required=True, help="address and port, such as 127.0.0.1:8000 or [::1]:8000")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--threads", type=int, default=8)
    options = parser.parse_args()
    if handed := os.environ.get(SHARE):
        serve(socket.socket(fileno=int(handed)), options.threads)
        return
    listener = listen(options.bind)
    if WINDOWS:
        serve(listener, options.threads)
    else:
        Processes(listener, max(1, options.processes)).run()


def listen(bind: str) -> socket.socket:
    """A socket that listens at `HOST:PORT`."""
    host, _, port = bind.rpartition(":")
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    found = socket.socket(family, socket.SOCK_STREAM)
    if not WINDOWS:
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    found.bind((host.strip("[]"), int(port)))
    found.listen(BACKLOG)
    return found


def serve(listener: socket.socket, threads: int) -> None:
    """Answer in this process until SIGTERM; requests in hand are answered first."""
    from waitress.server import create_server

    from studio import warm
    from studio.wsgi import application

    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # says how many wait at every request of a full house
    server = create_server(application, **settings(listener, threads))

    def stop(number: int, frame: FrameType | None) -> None:
        raise SystemExit(0)

    signal.signal(signal.SIGTERM, stop)
    signal.signal(signal.SIGINT, stop)
    warm.start()
    server.run()


def settings(listener: socket.socket, threads: int) -> dict[str, Any]:
    return {
        "sockets": [listener],
        "threads": threads,
        "connection_limit": CONNECTIONS,
        "channel_timeout": IDLE,
        "cleanup_interval": 5,
        "asyncore_use_poll": not WINDOWS,
        "ident": None,
        # Which proxies are believed is Django's and allauth's to decide (TOPFORM_PROXIES).
        "clear_untrusted_proxy_headers": False,
    }


class Processes:
    """One or several of this process on one socket; one that ends is started again."""

    def __init__(self, listener: socket.socket, count: int) -> None:
        self.listener, self.ended = listener, threading.Event()
        self.children = [self._start() for _ in range(count)]

    def _start(self) -> subprocess.Popen[bytes]:
        number = self.listener.fileno()
        # The child reads the end of its standard input when this process is gone, as this one does with its own parent.
        return subprocess.Popen(
            [sys.executable, "-m", "studio.tether", "studio.webserver", *sys.argv[1:]],
            stdin=subprocess.PIPE,
            pass_fds=(number,),
            env=os.environ | {SHARE: str(number)},
        )

    def run(self) -> None:
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: self.ended.set())
        while not self.ended.wait(0.5):
            for place, child in enumerate(self.children):
                if child.poll() is not None and not self.ended.is_set():
                    print(
                        f"A web process ended (code {child.returncode}); starting it again.",
                        file=sys.stderr,
                        flush=True,
                    )
                    time.sleep(1)
                    self.children[place] = self._start()
        for child in self.children:
            child.terminate()
        for child in self.children:
            try:
                child.wait(10)
            except subprocess.TimeoutExpired:
                child.kill()


if __name__ == "__main__":
    main()
