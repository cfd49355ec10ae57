"""Saving answers: every save arrives once, two windows never overwrite each other silently, nothing is lost."""

from __future__ import annotations

import uuid

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.models import Answer, AnswerHistory, Attempt
from assessments.services.answer import CONFLICT, LATE, SAVED, UNKNOWN, Save, save_answers
from assessments.services.hand_in import hand_in
from tests import factories

pytestmark = pytest.mark.django_db
A, B = uuid.UUID(int=1), uuid.UUID(int=2)
Q = "function:0"


@pytest.fixture
def attempt() -> Attempt:
    ensemble = factories.make_ensemble()
    player = factories.make_player(ensemble)
    return factories.make_attempt(factories.make_assignment(ensemble).steps.get(), player)


def save(attempt: Attempt, client: uuid.UUID, *saves: Save) -> list[tuple[str, str, int]]:
    _, results = save_answers(attempt_id=attempt.pk, player_id=attempt.player_id, client=client, saves=saves)
    return [(r.outcome, r.text, r.version) for r in results]


def standing(attempt: Attempt, question: str = Q) -> str:
    return Answer.objects.get(attempt=attempt, question=question).text


def test_the_first_save_stands(attempt: Attempt) -> None:
    assert save(attempt, A, Save(Q, "1", 1)) == [(SAVED, "1", 1)]
    assert standing(attempt) == "1"


def test_a_replay_adds_nothing(attempt: Attempt) -> None:
    first = save(attempt, A, Save(Q, "1", 1))
    assert save(attempt, A, Save(Q, "1", 1)) == first
    assert AnswerHistory.objects.filter(attempt=attempt).count() == 1


def test_a_replay_after_a_newer_save_tells_the_newer(attempt: Attempt) -> None:
    save(attempt, A, Save(Q, "1", 1))
    save(attempt, A, Save(Q, "2", 2, base=1))
    assert save(attempt, A, Save(Q, "1", 1)) == [(SAVED, "2", 2)]


def test_the_same_window_may_save_without_waiting_for_the_answer(attempt: Attempt) -> None:
    assert save(attempt, A, Save(Q, "5", 1), Save(Q, "5 of", 2), Save(Q, "5 of 2", 3))[-1] == (SAVED, "5 of 2", 3)
    assert [h.text for h in AnswerHistory.objects.filter(attempt=attempt)] == ["5", "5 of", "5 of 2"]


def test_an_older_save_of_the_same_window_that_comes_late_does_not_win(attempt: Attempt) -> None:
    save(attempt, A, Save(Q, "newer", 5))
    assert save(attempt, A, Save(Q, "older", 4))[0][1] == "newer"
    assert standing(attempt) == "newer"
    assert AnswerHistory.objects.filter(attempt=attempt, text="older").exists()


def test_another_window_that_has_seen_the_answer_may_change_it(attempt: Attempt) -> None:
    save(attempt, A, Save(Q, "1", 1))
    assert save(attempt, B, Save(Q, "2", 1, base=1)) == [(SAVED, "2", 2)]


def test_another_window_that_has_not_seen_it_is_a_conflict_and_both_are_kept(attempt: Attempt) -> None:
    save(attempt, A, Save(Q, "1", 1))
    assert save(attempt, B, Save(Q, "2", 1)) == [(CONFLICT, "1", 1)]
    assert standing(attempt) == "1"
    assert AnswerHistory.objects.get(attempt=attempt, client=B).text == "2"


def test_the_same_text_from_two_windows_is_no_conflict(attempt: Attempt) -> None:
    save(attempt, A, Save(Q, "1", 1))
    assert save(attempt, B, Save(Q, "1", 1))[0][0] == SAVED


def test_after_hand_in_a_save_is_kept_but_does_not_count(attempt: Attempt) -> None:
    save(attempt, A, Save(Q, "1", 1))
    hand_in(attempt_id=attempt.pk, player_id=attempt.player_id)
    assert save(attempt, A, Save(Q, "4", 2, base=1)) == [(LATE, "1", 1)]
    assert AnswerHistory.objects.get(attempt=attempt, outcome=LATE).text == "4"


def test_a_question_of_another_quiz_is_not_saved(attempt: Attempt) -> None:
    assert save(attempt, A, Save("function:999", "1", 1))[0][0] == UNKNOWN
    assert not AnswerHistory.objects.filter(attempt=attempt).exists()


def test_somebody_elses_attempt_does_not_exist(attempt: Attempt) -> None:
    with pytest.raises(Attempt.DoesNotExist):
        save_answers(attempt_id=attempt.pk, player_id=attempt.player_id + 1, client=A, saves=[Save(Q, "1", 1)])


STROKES = st.lists(st.tuples(st.sampled_from([A, B]), st.text(max_size=8), st.booleans()), min_size=1, max_size=12)


@given(STROKES)
def test_whatever_two_windows_do_every_text_is_kept_and_one_answer_stands(
    strokes: list[tuple[uuid.UUID, str, bool]],
) -> None:
    ensemble = factories.make_ensemble()
    attempt = factories.make_attempt(factories.make_assignment(ensemble).steps.get(), factories.make_player(ensemble))
    seen = {A: 0, B: 0}
    for n, (client, text, twice) in enumerate(strokes, 1):
        text = text.replace("\x00", "")
        for _ in range(2 if twice else 1):
            _, (result,) = save_answers(
                attempt_id=attempt.pk,
                player_id=attempt.player_id,
                client=client,
                saves=[Save(Q, text, n, base=seen[client])],
            )
        seen[client] = result.version
    kept = list(AnswerHistory.objects.filter(attempt=attempt).order_by("sequence").values_list("text", flat=True))
    assert kept == [text.replace("\x00", "") for _, text, _ in strokes]
    stands = [h.text for h in AnswerHistory.objects.filter(attempt=attempt, outcome=SAVED).order_by("sequence")]
    assert standing(attempt) == stands[-1]
    Attempt.objects.all().delete()
