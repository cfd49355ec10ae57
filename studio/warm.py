"""What a web process reads ahead when it starts, beside the first requests, so that nobody waits for it.

An app registers a function in its `jobs.py` with `ahead`. It must be safe to run beside requests that need the same thing;
one that fails is written to the log, and what it would have read is then read by the first page.
"""

from __future__ import annotations

import gc
import logging
import threading
from collections.abc import Callable

from django.db import close_old_connections, connections

log = logging.getLogger(__name__)
AHEAD: list[Callable[[], object]] = []


def ahead(function: Callable[[], object]) -> Callable[[], object]:
    """Have a function called once in every web process, after it has begun to listen."""
    AHEAD.append(function)
    return function


def start() -> threading.Thread:
    """Read ahead in a thread of its own, which ends with the process."""
    thread = threading.Thread(target=read_ahead, name="reading ahead", daemon=True)
    thread.start()
    return thread


def read_ahead() -> None:
    """One function after the other."""
    close_old_connections()
    try:
        for function in AHEAD:
            try:
                function()
            except Exception:
                log.exception("what %s reads ahead is left to the first page", function.__name__)
    finally:
        connections.close_all()
    settle()


def settle() -> None:
    """What is loaded by now stays as long as the process: the collector of cycles looks at it no more. With code, pages and
    charts read ahead that is 200,000 objects, and a full look at them 0.1 s in the middle of somebody's request
    (`tests/bench/scale.py` shows it as the p95)."""
    gc.collect()
    gc.freeze()
