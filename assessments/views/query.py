"""Reading what stands in an address: anything may be there."""
from __future__ import annotations

from collections.abc import Mapping


def words_of(query: Mapping[str, str], name: str, longest: int = 80) -> str:
    """Words to search for, without what no database takes (the zero byte)."""
    return (query.get(name) or "").replace("\x00", "").strip()[:longest]


def number_of(text: str | None) -> int | None:
    """A row's id, or None for anything that cannot be one."""
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 12 else None
