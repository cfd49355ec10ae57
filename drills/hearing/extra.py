"""Whether this site hears takes at all. Nothing heavy is loaded to find out."""

from __future__ import annotations

import importlib.util


class NotInstalled(RuntimeError):
    """The extra is missing; the message says what to install."""

    def __init__(self) -> None:
        super().__init__("This site does not hear takes: its extra (requirements-hearing.txt) is not installed.")


def available() -> bool:
    """Whether takes can be heard on this machine."""
    return importlib.util.find_spec("swift_f0") is not None
