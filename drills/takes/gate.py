"""So many recordings are looked at in one process at once, and no more.

An ensemble that records together sends together. Looking at a recording is a twentieth of a second of processor; thirty of them at once
would hold every thread, and no page would be answered meanwhile. So one is looked at, one waits, and the rest is told to come again:
the page that recorded keeps the take and sends it anew by itself, and a program that calls does as Retry-After says.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

AGAIN = 2
"""Seconds after which to come again."""


class Full(Exception):
    """Enough recordings are being looked at already."""


class Gate:
    """`waiting`: how many threads may stand before it, beside the one that is inside."""

    def __init__(self, waiting: int = 1) -> None:
        self._places = threading.BoundedSemaphore(waiting + 1)
        self._inside = threading.Lock()

    @contextmanager
    def entered(self) -> Iterator[None]:
        """Alone inside. Raises `Full`, at once, when nobody may wait any more."""
        if not self._places.acquire(blocking=False):
            raise Full
        try:
            with self._inside:
                yield
        finally:
            self._places.release()


GATE = Gate()
