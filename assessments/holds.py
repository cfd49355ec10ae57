"""What of a tune is held back from a player: whatever answers work of theirs that is still open.

- The chords of its charts, while an ensemble of the player has it assigned with changes by ear that the player has
  not handed in.
- Its analysis, while it is assigned with a quiz on functions or keys and the player may not see the answers yet.
- The name of its form, while it is assigned with a quiz on the form and the player may not see the answers yet.

All while it is asked, in a term that has not ended. Registered with `tunes.access`, so that every page, drill and call asks the same
rule.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Any

from django.urls import reverse
from django.utils import timezone

from drills.kinds import kinds_that, question_kind
from drills.question_kind import AnsweredBy
from studio.access import may_be_asked
from tunes.access import Hold
from tunes.models import PhraseByEar, Solo

from .access import steps_played
from .kinds import WRITE_OUT, closing_kinds
from .models import Assignment, Attempt, Recall, Step
from .selectors.by_ear import is_open_by_ear, is_to_do, with_latest
from .selectors.desk import is_out
from .selectors.done import ASKED, running


def _answered_by(*what: AnsweredBy) -> tuple[str, ...]:
    return kinds_that(lambda kind: kind.answered_by in what)


def open_work(user: Any, tunes: set[int]) -> dict[int, Hold]:
    """Of these tune ids, the held ones with the reason in plain words: two queries at most."""
    if not tunes:
        return {}
    steps = list(
        with_latest(steps_played(user), user).filter(
            kind__in=_answered_by(AnsweredBy.ANALYSIS, AnsweredBy.FORM, AnsweredBy.CHORDS),
            assignment__tune__in=tunes,
            **ASKED,
            **running("assignment__ensemble__"),
        )
    )
    held = {step.assignment.tune_id: _closed(step) for step in steps if is_open_by_ear(step)}
    for tune, hold in _unanswered(user, steps):
        held[tune] = held[tune] | hold if tune in held else hold
    return held


def answers_to_come(user: Any, tunes: set[int]) -> dict[int, str]:
    """Of these tune ids, those with a quiz of any kind that the player has still to answer, or whose answers are not out to
    them; each with the reason. Whoever tests themselves on such a tune would be told its key. Two queries at most.

    Changes from memory are no secret: their answer is the chart itself, which is open.
    """
    if not tunes or not may_be_asked(user):
        return {}
    kinds = kinds_that(lambda kind: kind.answered_by is not AnsweredBy.CHART)
    steps = list(
        with_latest(steps_played(user), user).filter(
            kind__in=kinds, assignment__tune__in=tunes, **ASKED, **running("assignment__ensemble__")
        )
    )
    found = {step.assignment.tune_id: _closed(step).reason for step in steps if is_open_by_ear(step)}
    for tune, hold in _unanswered(user, steps):
        found.setdefault(tune, hold.reason)
    return found


def melody_is_asked(user: Any, tune: int) -> bool:
    """Whether a player has begun to take the melody of a tune down and has not all of it, or is asked for it from memory now:
    two queries."""
    if not may_be_asked(user):
        return False
    begun = PhraseByEar.objects.filter(user=user, tune=tune, taken=None).exclude(text="")
    due = Recall.objects.filter(player=user, tune=tune, what=Recall.What.MELODY, due__lte=timezone.now())
    return begun.exists() or due.exists()


def solo_is_asked(user: Any, solo: Solo) -> Hold | None:
    """The hold on a solo whose notes, or others from the same recording, a player has still to write out: two queries at most."""
    if not may_be_asked(user):
        return None
    steps = with_latest(steps_played(user), user).filter(
        kind=WRITE_OUT, assignment__tune=solo.revision.version.tune_id, **ASKED, **running("assignment__ensemble__")
    )
    keys = {step.options["solo"]: step for step in steps if step.options.get("solo") and is_to_do(step)}
    found = keys.get(solo.pk)
    if found is None and keys and solo.recording_id:
        same = Solo.objects.filter(pk__in=keys, recording=solo.recording_id).values_list("pk", flat=True).first()
        found = keys.get(same)
    if found is None:
        return None
    reason = f"“{found.name}” in {found.assignment.title} asks you to write these notes out: they open when yours are handed in."
    return Hold(reason, url=reverse("work:step", args=[found.pk]))


def _closed(step: Step) -> Hold:
    return Hold(
        f"You take down the changes of this tune by ear for “{step.assignment.title}”: its charts open when you "
        f"hand in “{step.name}”.",
        chords=True,
        url=reverse("work:step", args=[step.pk]),
    )


def _unanswered(user: Any, steps: list[Step]) -> Iterator[tuple[int, Hold]]:
    """The tunes of those steps whose answers the player may not see yet: one query, none without a step. What closes the
    charts is left out: it opens when it is handed in."""
    steps = [step for step in steps if step.kind not in closing_kinds()]
    attempts: dict[int, list[Attempt]] = defaultdict(list)
    if steps:
        for attempt in Attempt.objects.filter(player=user, step__in=[s.pk for s in steps]).order_by("number"):
            attempts[attempt.step_id].append(attempt)
    now = timezone.now()
    for step in steps:
        group = attempts[step.pk]
        if not group or group[-1].is_open or not is_out(step, group[-1], group, now):
            reason = (
                f"Here stand the answers to “{step.name}” in {step.assignment.title}: they open when yours are out."
            )
            asks_form = question_kind(step.kind).answered_by is AnsweredBy.FORM
            yield step.assignment.tune_id, Hold(reason, form=reason if asks_form else "", analysis=not asks_form)


def still_asked(tune: int, ensembles: Iterable[int]) -> list[str]:
    """What of a tune is asked of these ensembles whose answers are not out for everybody, a sentence each: one query.

    Whoever hands something out about the tune is told; what each player gets is decided by `open_work`.
    """
    steps = (
        Step.objects.filter(
            kind__in=_answered_by(AnsweredBy.ANALYSIS, AnsweredBy.CHORDS),
            assignment__tune=tune,
            assignment__ensemble__in=list(ensembles),
            **ASKED,
            **running("assignment__ensemble__"),
        )
        .select_related("assignment__ensemble")
        .order_by("assignment__created", "position")
    )
    return [
        f"“{step.name}” in {step.assignment.title}, {step.assignment.ensemble.name}"
        for step in steps
        if not _is_over(step)
    ]


def _is_over(step: Step) -> bool:
    """Whether everybody may see the answers of a step, whatever they handed in."""
    at, now = step.assignment, timezone.now()
    if at.released_at is not None and at.released_at <= now:
        return True
    waits_for_due = at.release in (Assignment.Release.LAST, Assignment.Release.DUE)
    return bool(waits_for_due and step.due and step.due <= now and step.kind not in closing_kinds())
