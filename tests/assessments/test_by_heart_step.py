"""Changes by heart as a step: called in a key, marked in it, evidence, and back after days in another one.

Transpositions: a trumpet in B flat reads a major second above concert pitch (any orchestration manual).
"""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from assessments.models import Evidence, Recall
from assessments.selectors.quiz import called_key, study_for
from assessments.services.answer import Save, save_answers
from assessments.services.assign import CannotAsk, StepPlan, assign
from assessments.services.hand_in import hand_in, start_attempt
from tests import factories
from tunes.harmony.chords import parse_symbol
from tunes.harmony.pitch.spelling import Interval

pytestmark = pytest.mark.django_db


@pytest.fixture
def player() -> Any:
    return factories.make_player(factories.make_ensemble(), instrument="trumpet")


def step_of(player: Any, **options: str) -> Any:
    ensemble = player.memberships.get().ensemble
    made = assign(
        by=factories.make_instructor(ensemble), ensemble=ensemble, revision=factories.make_chart_revision(),
        title="By heart", steps=[StepPlan("by-heart", options=options)], tell=False, release="hand-in", attempts_allowed=3,
    )  # fmt: skip
    return made.steps.get()


def played(step: Any, player: Any, move: str = "") -> Any:
    """An attempt with every bar right in the key that was called, or moved by another interval."""
    attempt = start_attempt(step=step, player=player)
    interval = Interval.parse(move or attempt.written)
    texts = {
        q["id"]: " ".join(parse_symbol(c["chord"]).symbol.transposed(interval).text for c in q["key"]["chords"])
        for q in step.quiz.questions
    }
    saves = [Save(name, text, n) for n, (name, text) in enumerate(texts.items(), 1)]
    save_answers(attempt_id=attempt.pk, player_id=player.pk, client=CLIENT, saves=saves)
    return hand_in(attempt_id=attempt.pk, player_id=player.pk)


CLIENT = uuid.UUID(int=5)


def test_a_key_that_the_instructor_names(player: Any, client: Any) -> None:
    """The tune stands in F; called in A flat, a trumpet writes it in B flat."""
    step = step_of(player, called="Ab")
    attempt = start_attempt(step=step, player=player)
    assert (attempt.written, study_for(attempt).key.text) == ("P4", "Bb major")
    client.force_login(player)
    page = client.get(reverse("work:attempt", args=[attempt.pk])).content.decode()
    assert "A♭ major" in page
    assert "you read and write B♭ major" in page
    assert not any(symbol in page for symbol in ("Fmaj7", "Bbmaj7", "B♭maj7"))
    done = played(step, player)
    assert done.percent == 100
    assert Evidence.objects.get().kind == "by-heart"
    feedback = client.get(reverse("work:attempt", args=[done.pk])).content.decode()
    assert "100%" in feedback
    recall = Recall.objects.get()
    assert (recall.keys, recall.what, recall.due > timezone.now()) == (["Ab major"], "changes", True)


def test_the_site_calls_another_key_each_time(player: Any) -> None:
    step = step_of(player)
    keys = []
    for _ in range(3):
        done = played(step, player)
        assert done.percent == 100
        keys.append(called_key(step.quiz.home, done.written, done.instrument))
    assert len(set(keys)) == 3
    assert len(Recall.objects.get().keys) == 3


def test_the_right_chords_in_another_key_are_wrong(player: Any) -> None:
    assert (played(step_of(player, called="C"), player, move="P1").percent or 0) < 40


def test_numbers_alone_are_the_same_in_every_key_and_a_section_can_be_called(player: Any) -> None:
    step = step_of(player, part="numbers", section="A", called="E")
    attempt = start_attempt(step=step, player=player)
    save_answers(attempt_id=attempt.pk, player_id=player.pk, client=CLIENT, saves=[Save(step.quiz.ids[0], "1", 1)])
    done = hand_in(attempt_id=attempt.pk, player_id=player.pk)
    assert done.marks.get(question=step.quiz.ids[0]).points == 1
    assert Recall.objects.get().what == "numbers"
    with pytest.raises(CannotAsk, match="By heart"):
        step_of(player, section="Z")


def test_nobodys_words_are_accepted_for_all_where_everybody_is_called_in_another_key(player: Any, client: Any) -> None:
    step = step_of(player, called="C")
    played(step, player, move="P1")
    client.force_login(step.assignment.created_by)
    address = reverse("work:accept-answer", args=[step.pk])
    assert client.get(address, {"question": step.quiz.ids[0], "answer": "Fmaj7"}).status_code == 404
    sheet = client.get(reverse("work:ensemble-sheet", args=[step.pk])).content.decode()
    assert "accept" not in sheet.partition("<main")[2]
