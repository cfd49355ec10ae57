"""A quiz that a player starts for themselves: what can be asked, that it is no evidence, and that it tells no open key."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from assessments.holds import answers_to_come
from assessments.models import Attempt, Evidence, Mark, OwnQuiz, Recall
from assessments.own_quiz import Wish, choices
from assessments.services import own_quiz as services
from assessments.services.answer import Save
from drills.kinds import kinds_that
from drills.models import PracticeCue
from drills.question_kind import AnsweredBy, Needs
from tests import factories
from tunes.harmony.chords import parse_symbol
from tunes.harmony.pitch.spelling import Interval
from tunes.harmony.readings.function import Function
from tunes.selectors import agreed_revision

pytestmark = pytest.mark.django_db
KEYS_OF_A_PAGE = ("expected", "alternatives", "equivalents")


@pytest.fixture
def player() -> Any:
    return factories.make_player(factories.make_ensemble())


def chart(title: str = "") -> Any:
    """The agreed chart of a tune in F."""
    revision = factories.make_chart_revision(title)
    type(revision.version).objects.filter(pk=revision.version_id).update(is_agreed=True)
    return revision


def answered(quiz: OwnQuiz, **texts: str) -> OwnQuiz:
    saves = [Save(name, text, n) for n, (name, text) in enumerate(texts.items(), 1)]
    services.save(quiz_id=quiz.pk, player_id=quiz.player_id, client=uuid.uuid4(), saves=saves)
    return services.hand_in(quiz_id=quiz.pk, player=quiz.player)


def test_every_kind_is_asked_and_marked_without_being_evidence(player: Any, client: Any) -> None:
    revision = chart()
    client.force_login(player)
    for kind in choices().keys() - {"solo-notes"}:  # those need a solo: tests/assessments/test_solo_steps.py
        quiz = services.start(player=player, wish=Wish("tune", kind, 0, tune=revision.version.tune_id), seed=3)
        page = client.get(reverse("work:own-quiz", args=[quiz.pk]))
        assert page.status_code == 200, kind
        assert all(f'data-field="{q["id"]}"' in page.content.decode() for q in quiz.questions), kind
        assert page.content.decode().count("data-keypad=") == len(quiz.questions), kind
        assert page.content.decode().count(" data-pad ") == 1, "the keypad's place is found by it"
        assert not any(f"&quot;{word}&quot;" in page.content.decode() for word in KEYS_OF_A_PAGE)
        assert client.post(reverse("work:own-hand-in", args=[quiz.pk])).status_code == 302
        quiz.refresh_from_db()
        assert (quiz.points, quiz.out_of) == (0, len(quiz.questions)), kind
        assert client.get(reverse("work:own-quiz", args=[quiz.pk])).status_code == 200
    assert Evidence.objects.count() == Attempt.objects.count() == Mark.objects.count() == 0


def test_short_ones_mix_tunes_and_keep_to_groups_of_four_bars(player: Any) -> None:
    for number in range(5):
        chart(f"Tune {number}")
    quiz = services.start(player=player, wish=Wish(minutes=2, kind="function"), seed=1)
    assert len({part["tune"] for part in quiz.parts}) == 4
    assert 8 <= len(quiz.questions) <= 15
    for place in range(len(quiz.parts)):
        assert next(q["bar"] for q in quiz.questions if q["part"] == place) % 4 == 1


def test_chosen_bars_alone_are_asked(player: Any) -> None:
    revision = chart()
    wish = Wish("tune", "function", 0, tune=revision.version.tune_id, first=3, last=4)
    assert {q["bar"] for q in services.start(player=player, wish=wish).questions} == {3, 4}


def test_one_progression_is_asked_wherever_it_stands(player: Any) -> None:
    idiom = factories.make_idiom("homecoming")
    chart("One"), chart("Other")
    quiz = services.start(player=player, wish=Wish("progression", "function", 2, progression=idiom.pk), seed=4)
    assert {q["key"]["chord"] for q in quiz.questions} >= {"Gm7", "C7"}
    assert len(quiz.parts) == 2


OPEN_QUIZZES = kinds_that(
    lambda kind: kind.answered_by is not AnsweredBy.CHART and kind.needs in (Needs.NOTHING, Needs.MELODY)
)


@pytest.mark.parametrize("asked", OPEN_QUIZZES)
def test_a_tune_with_an_open_quiz_is_asked_by_nobody(asked: str, player: Any, client: Any) -> None:
    """Until its answers are out; also where the own quiz was begun before. Changes from memory hide nothing."""
    ensemble = player.memberships.get().ensemble
    revision, other = chart("Asked"), chart("Free")
    wish = Wish("tune", asked, 0, tune=revision.version.tune_id)
    before = services.start(player=player, wish=wish)
    before_other = services.start(player=player, wish=Wish("tune", asked, 0, tune=other.version.tune_id))
    step = factories.make_assignment(ensemble, kinds=(asked,), revision=revision).steps.get()
    assert set(answers_to_come(player, {revision.version.tune_id, other.version.tune_id})) == {revision.version.tune_id}
    with pytest.raises(services.NothingToAsk, match="not asked for now"):
        services.start(player=player, wish=wish)
    mixed = services.start(player=player, wish=Wish(kind=asked, minutes=10), seed=2)
    assert {part["title"] for part in mixed.parts} == {"Free"}
    client.force_login(player)
    page = client.get(reverse("work:own-quiz", args=[before.pk])).content.decode()
    assert "closed for now" in page
    assert "data-field" not in page
    client.post(reverse("work:own-hand-in", args=[before.pk]))
    before.refresh_from_db()
    assert before.is_open
    assert "data-field" in client.get(reverse("work:own-quiz", args=[before_other.pk])).content.decode()
    factories.make_attempt(step, player, answers={}, hand_in=True)
    assert answers_to_come(player, {revision.version.tune_id}) == {}
    assert services.start(player=player, wish=wish).questions


def test_changes_to_be_taken_down_by_ear_stay_closed(player: Any) -> None:
    ensemble = player.memberships.get().ensemble
    revision = chart("Heard")
    factories.make_recording(revision.version.tune, is_reference=True)
    factories.make_assignment(ensemble, kinds=("changes",), revision=revision)
    for kind in ("function", "by-heart"):
        with pytest.raises(services.NothingToAsk):
            services.start(player=player, wish=Wish("tune", kind, 0, tune=revision.version.tune_id))


def test_what_was_missed_in_the_last_month_is_asked_until_it_is_right(player: Any) -> None:
    ensemble = player.memberships.get().ensemble
    revision = chart()
    step = factories.make_assignment(ensemble, kinds=("function",), revision=revision).steps.get()
    attempt = factories.make_attempt(step, player, answers={"function:0": "1"}, hand_in=True)
    missed = set(attempt.marks.filter(points__lt=1).values_list("question", flat=True))
    quiz = services.start(player=player, wish=Wish("missed", minutes=0))
    assert {q["id"].partition(".")[2] for q in quiz.questions} == missed
    target = quiz.questions[0]
    answered(quiz, **{target["id"]: Function.from_json(target["key"]["expected"]).numeral})
    again = services.start(player=player, wish=Wish("missed", minutes=0))
    assert {q["id"].partition(".")[2] for q in again.questions} == missed - {target["id"].partition(".")[2]}
    attempt.handed_in = timezone.now() - dt.timedelta(days=40)
    attempt.save()
    OwnQuiz.objects.all().delete()
    with pytest.raises(services.NothingToAsk):
        services.start(player=player, wish=Wish("missed", minutes=0))


def test_what_is_missed_comes_back_in_the_plan_and_what_is_right_is_settled(player: Any) -> None:
    revision = chart()
    PracticeCue.objects.create(user=player, revision=revision, bar=1, why="Missed before", source="x")
    quiz = services.start(
        player=player, wish=Wish("tune", "guide-tones", 0, tune=revision.version.tune_id, first=1, last=2)
    )
    first = next(q for q in quiz.questions if q["bar"] == 1)
    # The 3rd and 7th of Fmaj7 are A and E; a tenor saxophone reads them a major ninth higher as B and F sharp.
    answered(quiz, **{first["id"]: "B F#"})
    assert set(PracticeCue.objects.filter(settled=None).values_list("bar", flat=True)) == {2}


def test_by_heart_comes_back_in_another_key(player: Any) -> None:
    revision = chart()
    called = set()
    for number in range(12):
        wish = Wish("tune", "by-heart", 0, tune=revision.version.tune_id)
        quiz = services.start(player=player, wish=wish, seed=number)
        page_key = quiz.parts[0]["written"]
        called.add(page_key)
        move = Interval.parse(page_key)
        texts = {
            q["id"]: " ".join(parse_symbol(c["chord"]).symbol.transposed(move).text for c in q["key"]["chords"])
            for q in quiz.questions
        }
        assert answered(quiz, **texts).percent == 100
    row = Recall.objects.get(player=player, what="changes")
    assert (len(row.keys), len(called), row.times) == (12, 12, 12)
    assert row.due > timezone.now()


def test_two_windows_and_what_comes_too_late(player: Any) -> None:
    quiz = services.start(player=player, wish=Wish("tune", "function", 0, tune=chart().version.tune_id))
    name, one, other = quiz.questions[0]["id"], uuid.uuid4(), uuid.uuid4()

    def save(client: uuid.UUID, text: str, sequence: int, base: int = 0) -> Any:
        return services.save(
            quiz_id=quiz.pk, player_id=player.pk, client=client, saves=[Save(name, text, sequence, base)]
        )[1][0]

    assert save(one, "1", 1).outcome == "saved"
    assert save(one, "1", 1).version == 1  # the same again writes nothing
    assert (save(other, "2", 1).outcome, save(other, "2", 2, 1).outcome) == ("conflict", "saved")
    services.hand_in(quiz_id=quiz.pk, player=player)
    assert save(one, "5", 9, 9).outcome == "late"
    quiz.refresh_from_db()
    assert quiz.answers[name][0] == "2"
    with pytest.raises(OwnQuiz.DoesNotExist):
        services.save(quiz_id=quiz.pk, player_id=player.pk + 1, client=one, saves=[])


def test_from_the_desk_to_the_first_question_is_one_press(player: Any, client: Any) -> None:
    revision = chart()
    assert agreed_revision(revision.version.tune) is not None
    client.force_login(player)
    begun = client.post(reverse("work:test-me"), {"source": "mix", "kind": "any", "minutes": "2"}, follow=True)
    assert begun.status_code == 200
    assert b"data-field" in begun.content
    for data, why in (
        ({"source": "tune"}, b"Choose which tune"),
        ({"source": "progression"}, b"Choose which progression"),
        ({"source": "missed"}, b"in the last month"),
        ({"source": "nonsense"}, b"nonsense"),
    ):
        refused = client.post(reverse("work:test-me"), {"kind": "any", "minutes": "2"} | data)
        assert refused.status_code == 422, data
        assert why in refused.content, data
