"""What a bench says when it is run without the file it measures."""

from __future__ import annotations

import sys


def given(what: str) -> str:
    """The first argument. Without one: a line that says what is needed, and exit code 2."""
    if len(sys.argv) > 1:
        return sys.argv[1]
    name = sys.argv[0].rpartition("/")[2].removesuffix(".py")
    print(f"tests.bench.{name} needs {what}", file=sys.stderr)
    raise SystemExit(2)
