"""What the site counts about itself, for the machine room: requests and saves over all web processes.

Each process counts in memory and writes its sums into a file of its own in `DATA/metrics` at most every few seconds; who
asks gets the sum of all files. A process that ends leaves its file, so that sums do not fall; after a day without a change
it is cleared away, which a reader of counters takes for a restart.
"""

from __future__ import annotations

import json
import os
import secrets
import socket
import threading
import time
from collections import Counter
from collections.abc import Callable, Mapping
from pathlib import Path

from django.conf import settings
from django.http import HttpRequest, HttpResponse

BOUNDS = (0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)  # seconds
EVERY = 2.0  # seconds between two writings of a process
KEPT = 24 * 60 * 60.0
READING = frozenset({"GET", "HEAD", "OPTIONS"})
METHODS = READING | {"POST", "PUT", "PATCH", "DELETE"}


class Counts:
    """The sums of one process; `name|label` → number."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._sums: Counter[str] = Counter()
        self._written, self._process, self._name = 0.0, 0, ""

    def request(self, method: str, status: int, seconds: float) -> None:
        """One request that was answered."""
        method = method if method in METHODS else "other"
        with self._lock:
            if self._process != os.getpid():
                self._begin()
            self._sums[f"requests|{method} {status // 100}xx"] += 1
            self._sums["seconds|"] += seconds  # type: ignore[assignment]
            for bound in BOUNDS:
                if seconds <= bound:
                    self._sums[f"within|{bound}"] += 1
            if method not in READING:
                self._sums[f"saves|{'saved' if status < 400 else 'refused' if status < 500 else 'failed'}"] += 1
            now = time.monotonic()
            if now - self._written < EVERY:
                return
            self._written = now
            kept = dict(self._sums)
        self._write(kept)

    def _begin(self) -> None:
        """A process counts for itself: what a fork took along is its parent's."""
        self._process = os.getpid()
        self._name = f"{socket.gethostname()}-{self._process}-{secrets.token_hex(4)}.json"
        self._sums.clear()

    def flush(self) -> None:
        """Write now, if anything was counted."""
        with self._lock:
            kept = dict(self._sums) if self._process == os.getpid() else {}
        if kept:
            self._write(kept)

    def _write(self, kept: Mapping[str, float]) -> None:
        path = _folder() / self._name
        new = path.with_suffix(f".{threading.get_ident()}")
        try:
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            new.write_text(json.dumps(kept), encoding="utf-8")
            new.replace(path)
        except OSError:  # a full or read-only disk says so elsewhere; no page fails for the sake of a count
            new.unlink(missing_ok=True)


def _folder() -> Path:
    return Path(settings.DATA_DIR) / "metrics"


def sums() -> Counter[str]:
    """Over all processes, those that ended today included."""
    COUNTS.flush()
    found: Counter[str] = Counter()
    for path in _folder().glob("*.json"):
        try:
            if time.time() - path.stat().st_mtime > KEPT:
                path.unlink(missing_ok=True)
                continue
            found.update(json.loads(path.read_text(encoding="utf-8")))
        except (OSError, ValueError):  # replaced or cleared away a moment ago
            continue
    return found


COUNTS = Counts()


class CountingMiddleware:
    """Counts every request; stands first, so that its time is the whole. In use when `TOPFORM_METRICS_TOKEN` is set."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        start = time.perf_counter()
        response = self.get_response(request)
        COUNTS.request(request.method or "", response.status_code, time.perf_counter() - start)
        return response
