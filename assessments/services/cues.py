"""Bars missed in a quiz become bars to practise first, but never before the player may know what was missed."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from drills.services.practice import cue_bars
from tunes.study import chart_of

from ..bars import Bars
from ..models import Assignment, Attempt
from ..release import DUE, LAST
from ..selectors.desk import is_out


def cue_missed(attempt: Attempt, *, now: datetime | None = None) -> int:
    """Pass the bars of wrong answers on to the practice plan; returns how many are new.

    At once when the answers are out, from the due date when they come out then, and not yet otherwise:
    `release_answers` calls this again.
    """
    when = _out_from(attempt, now or timezone.now())
    if when is None:
        return 0
    missed = set(attempt.marks.filter(points__lt=1).values_list("question", flat=True))
    asked = [q for q in attempt.step.quiz.questions if q["id"] in missed and q.get("bar") is not None]
    named = Bars(chart_of(attempt.step.assignment.revision.text)) if asked else None
    bars = {bar for q in asked if named and (bar := named.written(q)) is not None}
    return cue_bars(
        user=attempt.player_id,
        revision=attempt.step.assignment.revision_id,
        bars=bars,
        why=f"Missed in the quiz: {attempt.step.name.lower()}",
        source=f"attempt:{attempt.pk}",
        when=when,
    )


def cue_released(assignment: Assignment) -> None:
    """The answers of an assignment are out: pass on what was missed in every attempt of it."""
    rows = Attempt.objects.filter(step__assignment=assignment, handed_in__isnull=False, step__quiz__isnull=False)
    for attempt in rows.select_related("step__quiz", "step__assignment"):
        cue_missed(attempt)


def _out_from(attempt: Attempt, now: datetime) -> datetime | None:
    """Since when, or from when, the player may see the marks; None when nobody knows yet."""
    at, step = attempt.step.assignment, attempt.step
    attempts = list(Attempt.objects.filter(step=step, player_id=attempt.player_id))
    if is_out(step, attempt, attempts, now):
        return now
    return step.due if at.release in (DUE, LAST) and step.due and not attempt.is_open else None
