"""A player never sees an unreleased key, in no page, no source and no answer of an endpoint; nor another's work."""

from __future__ import annotations

import json
import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assessments.services import assign
from assessments.services.assign import release_answers, withhold_answers
from drills.comparers.wording import reason_text
from studio.models import Notice
from tests import factories
from tunes.harmony.pitch.spelling import UNISON

pytestmark = pytest.mark.django_db
# Words that only the key holds: the label of an applied dominant, its reason, its goal.
CHART = "key: F major\n[A]\n| Fmaj7 | A7 | Dm7 C7 | Fmaj7 |\n"
KINDS = ("function", "form", "key-areas")


@pytest.fixture
def world() -> dict[str, Any]:
    ensemble = factories.make_ensemble()
    player = factories.make_player(ensemble, instrument="piano")
    made = factories.make_assignment(
        ensemble, kinds=KINDS, release="by-hand", revision=factories.make_chart_revision(text=CHART)
    )
    client = Client()
    client.force_login(player)
    return {"made": made, "player": player, "client": client, "steps": {s.kind: s for s in made.steps.all()}}


def secrets_of(step: Any) -> set[str]:
    """Everything in the stored key that is long enough to be recognised and is not shown to begin with."""
    found: set[str] = set()
    shown = json.dumps(step.quiz.asked)
    for question in step.quiz.questions:
        key = question["key"]
        texts = [
            reason_text(key.get("reason"), UNISON),
            key.get("rule"),
            (key.get("expected") or {}).get("numeral"),
            (key.get("sound") or {}).get("text"),
        ]
        found |= {t for t in texts if t and len(t) > 3 and t not in shown}
    return found | {"expected", "equivalents", "&quot;key&quot;", '"key":'}


def page(world: dict[str, Any], attempt: Any) -> str:
    return str(world["client"].get(reverse("work:attempt", args=[attempt.pk])).content.decode())


@pytest.mark.parametrize("kind", KINDS)
def test_no_page_before_release_holds_the_key(world: dict[str, Any], kind: str) -> None:
    step = world["steps"][kind]
    hidden = secrets_of(step)
    attempt = factories.make_attempt(step, world["player"], answers={step.quiz.ids[0]: "1"})
    pages = [page(world, attempt)]
    saved = world["client"].post(
        reverse("work:save", args=[attempt.pk]),
        json.dumps({"client": str(uuid.uuid4()), "saves": [{"q": step.quiz.ids[0], "text": "2", "seq": 1, "base": 1}]}),
        "application/json",
    )
    pages.append(saved.content.decode())
    world["client"].post(reverse("work:hand-in", args=[attempt.pk]))
    pages += [
        page(world, attempt),
        *(
            world["client"].get(url).content.decode()
            for url in (
                reverse("work:desk"),
                reverse("work:my-tunes"),
                reverse("work:step", args=[step.pk]),
                reverse("work:assignment", args=[world["made"].pk]),
            )
        ),
    ]
    for text in pages:
        assert [secret for secret in hidden if secret in text] == []


def test_marks_show_after_release_and_hide_again_when_withheld(world: dict[str, Any]) -> None:
    done = factories.make_attempt(world["steps"]["function"], world["player"], hand_in=True)
    reason = world["steps"]["function"].quiz.questions[1]["key"]["expected"]["numeral"]
    assert reason not in page(world, done)
    release_answers(assignment=world["made"])
    assert reason in page(world, done)
    withhold_answers(assignment=world["made"])
    assert reason not in page(world, done)


@pytest.mark.parametrize("step", ["keep_all_shown", "cue_released", "happened", "notify_many"])
def test_a_release_that_fails_half_way_has_released_nothing_and_can_be_tried_again(
    world: dict[str, Any], monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    done = factories.make_attempt(world["steps"]["function"], world["player"], hand_in=True)
    reason = world["steps"]["function"].quiz.questions[1]["key"]["expected"]["numeral"]

    def fails(*_: object, **__: object) -> None:
        raise OSError("the disk is full")

    with monkeypatch.context() as broken:
        broken.setattr(assign, step, fails)
        with pytest.raises(OSError, match="full"):
            release_answers(assignment=world["made"])
    assert reason not in page(world, done)
    assert not Notice.objects.filter(kind="released").exists()
    world["made"].refresh_from_db()
    release_answers(assignment=world["made"])
    assert reason in page(world, done)
    assert Notice.objects.filter(user=world["player"], kind="released").exists()


def test_the_open_attempt_after_a_release_still_hides_the_key(world: dict[str, Any]) -> None:
    step = world["steps"]["function"]
    factories.make_attempt(step, world["player"], hand_in=True)
    release_answers(assignment=world["made"])
    again = factories.make_attempt(step, world["player"])
    assert [s for s in secrets_of(step) if s in page(world, again)] == []


def test_own_tunes_hide_a_mark_that_is_not_out(world: dict[str, Any]) -> None:
    step = world["steps"]["function"]
    factories.make_attempt(step, world["player"], hand_in=True)
    address = reverse("work:my-tunes")
    assert "Function of every chord: 0%" not in world["client"].get(address).content.decode()
    release_answers(assignment=world["made"])
    assert "Function of every chord: 0%" in world["client"].get(address).content.decode()


def test_the_echo_is_the_same_for_a_right_and_a_wrong_answer_but_for_what_was_typed(world: dict[str, Any]) -> None:
    """It knows nothing of the quiz: it takes no id of one."""
    answers = {
        q: world["client"].get(reverse("work:echo"), {"kind": "function", "q": q, "home": "F major"}).json()
        for q in ("5 of 2", "5 of 5")
    }
    assert answers["5 of 2"] == {"text": "V7 of ii in F: D7 → Gm7", "ok": True}
    assert set(answers["5 of 5"]) == {"text", "ok"}


def test_what_a_player_writes_is_never_html(world: dict[str, Any]) -> None:
    step = world["steps"]["function"]
    nasty = "<script>alert(1)</script>"
    done = factories.make_attempt(step, world["player"], answers={step.quiz.ids[0]: nasty}, hand_in=True)
    leader = Client()
    leader.force_login(world["made"].created_by)
    release_answers(assignment=world["made"])
    for text in (
        page(world, done),
        leader.get(reverse("work:sheet", args=[done.pk])).content.decode(),
        leader.get(reverse("work:ensemble-sheet", args=[step.pk])).content.decode(),
    ):
        assert nasty not in text
        assert "&lt;script&gt;" in text
