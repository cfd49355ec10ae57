"""What was made from a chart before it was overruled, told to the person who overrules it.

Quizzes keep the key they were issued with. Which ones still have an old one is known by the apps above this one; they
register here, so that nothing points upwards.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from tunes.models import ChartRevision


@dataclass(frozen=True)
class OldKey:
    """Something that people still answer with an old key: what it is in words, and the page that sets it right."""

    words: str
    url: str
    action: str


Finder = Callable[[Any, ChartRevision], list[OldKey]]
_FINDERS: list[Finder] = []


def tell_after_overrule(finder: Finder) -> Finder:
    """Register `finder(user, revision)`: what still has a key from before the overrules that stand on it now."""
    if finder not in _FINDERS:
        _FINDERS.append(finder)
    return finder


def old_keys(user: Any, revision: ChartRevision) -> list[OldKey]:
    """Everything that still has an old key of this revision, of what `user` leads."""
    return [row for finder in _FINDERS for row in finder(user, revision)]
