"""An assignment like the one before: its choices, its steps, and its dates counted from today."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.utils import timezone

from ..access import assignments_led
from ..kinds import KINDS, QUIZ, SOLO_KINDS
from ..models import Assignment
from .ledger import requirements

CHOICES = ("strictness", "alternatives", "key_prefix", "attempts_allowed", "release", "pitch_in", "ask_repeats")


def last_time(user: Any) -> Assignment | None:
    """The assignment that `user` made last, for an ensemble that they lead. One query."""
    return assignments_led(user).filter(created_by=user).order_by("-created", "-pk").first()


def as_before(before: Assignment) -> dict[str, Any]:
    """What of an assignment is chosen again for another tune."""
    return {name: getattr(before, name) for name in CHOICES} | {"instructions": before.instructions}


def steps_as_before(before: Assignment) -> dict[str, dict[str, Any]]:
    """Its steps as a form begins with them, by kind; a step that is about one solo is left out. One query."""
    shift = timezone.localdate() - timezone.localdate(before.created)
    found: dict[str, dict[str, Any]] = {}
    for place, step in enumerate(before.steps.exclude(kind__in=SOLO_KINDS).filter(closed=None)):
        key = step.kind if step.kind not in found else f"{step.kind}-2"
        due = timezone.localdate(step.due) + shift if step.due else None
        if due and due <= timezone.localdate():
            due = timezone.localdate() + timedelta(days=7)
        found[key] = {"on": True, "place": place, "title": step.title, "times": step.times, "due": due}
    return found


def counts_as_learned() -> dict[str, str]:
    """Kind → what of it the programme asks for before a tune counts as learned, in words. One query."""
    found = {}
    for row in requirements():
        times = f"{row.times} times" if row.times > 1 else ""
        mark = f"{row.pass_mark}%" if KINDS[row.kind].how == QUIZ and row.pass_mark else ""
        found[row.kind] = times or mark
    return found
