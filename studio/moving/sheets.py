"""What the apps add to an open archive as MusicXML: copies for other programs to read; an import leaves them aside.

An app says in its `open_sheets.py`::

    @sheets("charts")
    def charts() -> Iterator[Sheet]:
        yield Sheet("tune-3-version-4", content)
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass


@dataclass(frozen=True)
class Sheet:
    """One file: its name without an ending (of our own making: letters, digits, hyphens), its content, or why it has none."""

    name: str
    content: bytes
    problem: str = ""


Source = Callable[[], Iterator[Sheet]]
SOURCES: dict[str, Source] = {}


def sheets(folder: str) -> Callable[[Source], Source]:
    """Register what fills one folder."""

    def register(source: Source) -> Source:
        SOURCES[folder] = source
        return source

    return register
