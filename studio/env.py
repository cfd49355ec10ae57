"""Reading settings from the environment. Secrets may be given as `NAME` or as a file named by `NAME_FILE`."""

from __future__ import annotations

import os
from pathlib import Path


class SettingError(Exception):
    """A setting is missing or cannot be read; the message says which and what to do."""


def text(name: str, default: str = "") -> str:
    """The value of `name`, or the content of the file that `name + "_FILE"` points at, or `default`."""
    path = os.environ.get(f"{name}_FILE", "")
    if not path:
        return os.environ.get(name, default)
    try:
        return Path(path).read_text(encoding="utf-8").strip()
    except OSError as error:
        raise SettingError(f"{name}_FILE names {path}, which cannot be read: {error.strerror}.") from error


def flag(name: str, default: bool = False) -> bool:
    """True for 1, true, yes, on (any case)."""
    value = text(name)
    return value.lower() in {"1", "true", "yes", "on"} if value else default


def number(name: str, default: int) -> int:
    """A whole number, or a clear error."""
    value = text(name)
    if not value:
        return default
    try:
        return int(value)
    except ValueError as error:
        raise SettingError(f"{name} is {value!r}; give a whole number, for example {default}.") from error


def words(name: str, default: str = "") -> list[str]:
    """A list separated by commas, empty parts left out."""
    return [part.strip() for part in text(name, default).split(",") if part.strip()]
