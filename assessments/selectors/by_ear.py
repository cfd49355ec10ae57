"""Which changes by ear a player has still to hand in: while one is open, the charts of its tune stay closed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery

from drills.kinds import question_kinds
from drills.question_kind import AnsweredBy
from tunes.harmony.pitch.spelling import Key, SpellingError, sensible
from tunes.study import StudyChart

from ..access import steps_played
from ..kinds import BY_EAR, WRITE_OUT, closing_kinds
from ..models import Attempt, Step
from .done import ASKED, running


def with_latest(steps: QuerySet[Step], user: Any) -> QuerySet[Step]:
    """Steps with `latest`: the status of the player's latest attempt, None before the first."""
    latest = Attempt.objects.filter(step=OuterRef("pk"), player=user).order_by("-number").values("status")[:1]
    return steps.annotate(latest=Subquery(latest))


def is_open_by_ear(step: Any) -> bool:
    """Whether a step (read `with_latest`) asks for changes by ear that are still to hand in.

    That is: never begun, being written, or returned for another go. A further go that the player begins closes the
    charts again until it is handed in.
    """
    return step.kind in closing_kinds() and is_to_do(step)


def is_to_do(step: Any) -> bool:
    """Whether a step (read `with_latest`) is still to hand in: never begun, being written, or returned."""
    return step.latest in (None, Attempt.Status.OPEN, Attempt.Status.RETURNED)


def open_by_ear(user: Any, tunes: Iterable[int]) -> set[int]:
    """Of these tune ids, those with changes by ear to hand in, in a term that has not ended: one query."""
    steps = with_latest(steps_played(user), user).filter(
        kind__in=closing_kinds(), assignment__tune__in=set(tunes), **ASKED, **running("assignment__ensemble__")
    )
    return {step.assignment.tune_id for step in steps if is_open_by_ear(step)}


def as_heard(step: Step, study: StudyChart) -> StudyChart:
    """A chart in the key that its recording sounds in, for changes by ear: what is written down is what is heard.

    The chart as it stands for other steps, and where the recording's key is not known or is of the other mode.
    """
    heard = read_key(step.options.get("key") or "") if step.kind == BY_EAR else None
    if heard is None or heard.mode != study.key.mode or heard.tonic.pc == study.key.tonic.pc:
        return study
    return study.transposed(sensible(heard))


def read_key(text: str) -> Key | None:
    """The key that a recording names; None for none, or one that cannot be read."""
    try:
        return Key.parse(text) if text else None
    except SpellingError:
        return None


def shows_chords(kind: str, *, out: bool) -> bool:
    """Whether the page of an attempt shows chords of the chart: quizzes do, changes by ear once the answers are out."""
    asked = question_kinds().get(kind)
    return asked is not None and asked.tells_chords and (out or asked.answered_by is not AnsweredBy.CHORDS)


def waits_for_chart(kind: str, *, out: bool, over: bool) -> bool:
    """Whether there is nothing to begin while the chart is closed: its chords stand on the page, or above the staves
    that a solo is written on. `over`: it is handed in already."""
    return not over if kind == WRITE_OUT else shows_chords(kind, out=out)
