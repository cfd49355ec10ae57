"""Who may see or change what in the repertoire.

Everybody signed in sees tunes and charts; instructors and the director change them. The analysis of a tune is
the answer key of its quizzes: while a player still has one to answer it is held back. Which tunes those are is
known by the apps above this one; they register a test here, so that nothing points upwards.
"""
from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from django.contrib.auth.decorators import login_required

from studio.access import can_edit_repertoire, require
from tunes.models import Tune

Hold = Callable[[Any, set[int]], dict[int, str]]
_HOLDS: list[Hold] = []

signed_in_required = login_required
editor_required = require(can_edit_repertoire)


def hold_analysis(test: Hold) -> Hold:
    """Register `test(user, tune ids) -> {tune id: reason}`: tunes whose analysis that player may not see yet."""
    if test not in _HOLDS:
        _HOLDS.append(test)
    return test


def held_back(user: Any, tunes: Iterable[Tune | int]) -> dict[int, str]:
    """Of these tunes, those whose analysis `user` may not see yet, each with the reason in plain words."""
    if can_edit_repertoire(user):
        return {}
    wanted = {tune if isinstance(tune, int) else tune.pk for tune in tunes}
    found: dict[int, str] = {}
    for test in _HOLDS:
        found |= test(user, wanted)
    return found
