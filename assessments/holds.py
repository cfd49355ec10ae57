"""Which tunes' analysis is held back from a player: the ones whose quiz it would answer.

A tune is held while an ensemble of the player has it assigned with a quiz on functions or keys in a term that
has not ended, and the player may not see the answers of that quiz yet. Registered with `tunes.access`, so
that every page, drill and call asks the same rule.
"""
from __future__ import annotations

from collections import defaultdict
from typing import Any

from django.utils import timezone

from .access import steps_played
from .models import Attempt
from .selectors.desk import is_out

REVEALED = ("function", "key-areas")  # kinds that an analysis answers


def unanswered(user: Any, tunes: set[int]) -> dict[int, str]:
    """Of these tune ids, the held ones with the reason in plain words: two queries."""
    steps = list(steps_played(user).filter(
        kind__in=REVEALED, assignment__tune__in=tunes, assignment__ensemble__term__ends__gte=timezone.localdate()))
    attempts: dict[int, list[Attempt]] = defaultdict(list)
    if steps:
        for attempt in Attempt.objects.filter(player=user, step__in=[s.pk for s in steps]).order_by("number"):
            attempts[attempt.step_id].append(attempt)
    now = timezone.now()
    held: dict[int, str] = {}
    for step in steps:
        group = attempts[step.pk]
        if not group or group[-1].is_open or not is_out(step, group[-1], group, now):
            held[step.assignment.tune_id] = (
                f"It is the answer to “{step.name}” in {step.assignment.title}: it opens when your answers are out.")
    return held
