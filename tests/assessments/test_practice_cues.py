"""What was missed comes first in the practice plan, and not a minute before the answers are out."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.utils import timezone

from assessments.services.assign import release_answers
from drills.selectors import open_cues
from tests import factories

pytestmark = pytest.mark.django_db
CHART = "key: F major\n[A]\n| Fmaj7 | D7 | Gm7 C7 | Fmaj7 |\n"


def handed_in(due: dt.datetime | None = None, **fields: Any) -> tuple[Any, Any]:
    """A player with one wrong answer (bar 2) and blanks elsewhere but in bars 1 and 4."""
    ensemble = factories.make_ensemble()
    player = factories.make_player(ensemble, instrument="piano")
    revision = factories.make_chart_revision("Harbour Steps", text=CHART)
    made = factories.make_assignment(ensemble, revision=revision, due=due, **fields)
    step = made.steps.get()
    ids = [question["id"] for question in step.quiz.questions]
    answers = dict(zip(ids, ["1maj7", "4", "2m7", "57", "1maj7"], strict=True))
    factories.make_attempt(step, player, answers=answers, hand_in=True)
    return made, player


def bars(player: Any, now: dt.datetime | None = None) -> list[int]:
    return [cue.bar for cue in open_cues(player, now)]


def test_missed_bars_are_cued_when_answers_are_out_at_once() -> None:
    _, player = handed_in(release="hand-in")
    assert bars(player) == [2]


def test_nothing_is_told_before_the_due_date() -> None:
    due = timezone.now() + dt.timedelta(days=3)
    _, player = handed_in(release="due", due=due)
    assert bars(player) == []
    assert bars(player, due + dt.timedelta(minutes=1)) == [2]


def test_nothing_is_told_before_the_instructor_releases() -> None:
    made, player = handed_in(release="by-hand")
    assert bars(player) == []
    release_answers(assignment=made)
    assert bars(player) == [2]
    release_answers(assignment=made)
    assert bars(player) == [2]
