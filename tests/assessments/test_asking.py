"""Every kind of question brings its own keypad and its own examples, and a page without scripts overwrites nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from assessments.kinds import KINDS, quiz_kinds
from assessments.models import Answer, Attempt
from assessments.services.hand_in import start_attempt
from drills.marking import echo
from tests import factories

PAD = (Path(__file__).resolve().parents[2] / "static/js/quiz-pad.js").read_text(encoding="utf-8")


@pytest.mark.parametrize("kind", quiz_kinds())
def test_every_kind_has_examples_that_are_understood(kind: str) -> None:
    examples = KINDS[kind].examples
    assert examples
    context = {"key": "F major", "metre": "4/4"}
    parts = {"form": ("letters", "lengths", "bars")}.get(kind, ("",) * len(examples))
    assert [echo(kind, text, context | {"part": part}).ok for text, part in zip(examples, parts, strict=True)] == [
        True
    ] * len(examples)


def test_no_kind_falls_back_to_another_kinds_keypad() -> None:
    assert "throw new Error" in PAD[PAD.index("this.keypad = ") : PAD.index("this.tools")]


@pytest.mark.django_db
def test_a_page_without_scripts_that_is_older_than_an_answer_is_told() -> None:
    ensemble = factories.make_ensemble()
    player, made = factories.make_player(ensemble), factories.make_assignment(ensemble)
    attempt = start_attempt(step=made.steps.get(), player=player)
    client, finish = Client(), reverse("work:hand-in", args=[attempt.pk])
    client.force_login(player)
    factories.make_attempt(made.steps.get(), player, answers={"function:0": "1"})
    assert Answer.objects.get().version == 1
    form = {"plain": "1", "q-function:0": "2", "v-function:0": "0"}
    page = client.post(finish, form)
    assert page.status_code == 409
    said = page.content.decode()
    assert "there “1”, here “2”" in said
    assert 'value="2"' in said
    assert (Attempt.objects.get().is_open, Answer.objects.get().text) == (True, "1")
    assert client.post(finish, form | {"v-function:0": "1"}).status_code == 302
    assert (Attempt.objects.get().is_open, Answer.objects.get().text) == (False, "2")
