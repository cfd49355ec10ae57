"""The version of the engine: derived from everything that a reading hangs on, so that nobody has to remember to raise it.

It is a hash of the source of every module that reads a chart, rules and sentences among them, and of the fitted weights.
A change of a comment raises it too: charts are then read again and come out the same, which costs a little and hides nothing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

HARMONY = Path(__file__).resolve().parents[1]
READS = ("problems.py", "pitch", "chords", "charts", "readings", "progressions", "explain", "analysis")
"""What a reading hangs on, below `tunes/harmony`: all that the pipeline imports (a test compares)."""


def sources() -> Iterator[Path]:
    """The files that make the version, in a fixed order."""
    for name in READS:
        place = HARMONY / name
        found = [place] if place.is_file() else [path for kind in ("*.py", "*.json") for path in place.rglob(kind)]
        yield from sorted(found)


@lru_cache(maxsize=1)
def version() -> str:
    """Twelve signs that change when readings may.

    >>> len(version()), version() == version()
    (12, True)
    """
    digest = hashlib.sha256()
    for path in sources():
        digest.update(path.relative_to(HARMONY).as_posix().encode() + b"\0" + path.read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()[:12]
