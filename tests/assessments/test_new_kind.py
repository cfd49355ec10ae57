"""A new kind of question is one module: found, built, asked, understood, marked, told, held back, marked again.

The module is `tests/toy_kinds/tonics.py`; that it is all there is, is what is tested. The rules are our own.
"""

from __future__ import annotations

import dataclasses
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

import drills.kinds
from assessments.forms import StepsForm
from assessments.kinds import KINDS, asked_as, kind_choices
from assessments.models import Mark
from assessments.own_quiz import Wish, names
from assessments.selectors.old_keys import remarking
from assessments.selectors.today import desk_of
from assessments.services import own_quiz
from drills.kinds import question_kind, question_kinds
from drills.marking_doc import marking_tables
from drills.marking_rules import marking_rules
from drills.question_kind import Keypad, QuestionKind
from tests import factories
from tunes.access import held_back
from tunes.harmony.pitch.spelling import Key
from tunes.selectors import revisions_for_study
from tunes.services.overrules import overrule_area
from tunes.study import study_chart

ROOT = Path(__file__).resolve().parents[2]
CHART = "key: F major\n\n| Fmaj7 | Gm7 C7 | Fmaj7 | Gm7 C7 |"


@pytest.fixture
def tonics(monkeypatch: pytest.MonkeyPatch) -> Iterator[QuestionKind]:
    """The kind of the toy module, found as every other is."""
    monkeypatch.setattr(drills.kinds, "__path__", [*drills.kinds.__path__, str(ROOT / "tests/toy_kinds")])
    _forget()
    kind = question_kind("tonics")
    rows = sorted((*KINDS.values(), asked_as(kind)), key=lambda row: row.place)
    before = dict(KINDS)
    KINDS.clear()
    KINDS.update({row.id: row for row in rows})  # which is made once, when the site starts
    yield kind
    KINDS.clear()
    KINDS.update(before)
    sys.modules.pop("drills.kinds.tonics")
    _forget()


def _forget() -> None:
    question_kinds.cache_clear()
    marking_rules.cache_clear()


@pytest.mark.django_db
def test_one_module_is_all_there_is(tonics: QuestionKind, client: Client) -> None:
    ensemble = factories.make_ensemble()
    leader, player = factories.make_instructor(ensemble), factories.make_player(ensemble, instrument="piano")
    revision = factories.make_chart_revision(text=CHART)
    tune = revision.version.tune_id

    # It is offered: to who assigns, to who asks themselves; its rules stand in the tables.
    assert ("tonics", "Tonics") in kind_choices()
    assert ("tonics", "Tonics") in names()
    chosen = StepsForm({"step-tonics-on": "on", "step-tonics-part": "mode"})
    assert chosen.is_valid()
    assert [(plan.kind, plan.options) for plan in chosen.plans()] == [("tonics", {"part": "mode"})]
    assert "### Tonics" in marking_tables()
    mine = own_quiz.start(player=player, wish=Wish("tune", "tonics", 0, tune=tune), seed=1)
    client.force_login(player)
    assert "against which note" in page(client, "work:own-quiz", mine.pk)

    # It is asked without the chart, with the keys for its answers, and holds the analysis back.
    step = factories.make_assignment(
        ensemble, by=leader, kinds=("tonics",), revision=revision, release="by-hand", attempts_allowed=2
    ).steps.get()
    assert [work.minutes for work in desk_of(player).works if work.url.endswith(f"/{step.pk}/start/")] == [9]
    assert held_back(player, [tune])
    ids = step.quiz.ids
    assert len(ids) == 4
    attempt = factories.make_attempt(step, player, answers={ids[0]: "F", ids[1]: "C"})
    asked = page(client, "work:attempt", attempt.pk)
    assert asked.count('data-keypad="notes"') == asked.count('data-notes="1"') == 4
    assert not re.search(r"\bGm7?\b", asked)  # whole words: a form's token may hold the letters
    assert not any(f"&quot;{word}&quot;" in asked for word in ("tonic", "key"))
    said = {"kind": "tonics", "q": "Bb", "home": "F major"}
    assert client.get(reverse("work:echo"), said).json() == {"text": "Bb", "ok": True}

    # It is marked, and told when the answers are out.
    assert client.post(reverse("work:hand-in", args=[attempt.pk])).status_code == 302
    marks = {mark.question: (mark.points, mark.rule) for mark in Mark.objects.filter(attempt=attempt)}
    assert [marks[name] for name in ids[:3]] == [(1.0, "tonics-exact"), (0.0, "other"), (0.0, "blank")]
    assert "It is F." not in page(client, "work:attempt", attempt.pk)
    client.force_login(leader)
    for name, pk in (("work:sheet", attempt.pk), ("work:ensemble-sheet", step.pk)):
        assert "another one" in page(client, name, pk).lower(), name
    assert "The note that the bar is heard against." in page(client, "work:marking-rules")

    # Where the chart is overruled, marking again is offered.
    assert remarking(step).changed == ()
    overrule_area(revision=revision, first=1, last=2, key=Key.parse("C"), why="so", by=leader)
    again = remarking(step)
    assert [(q["bar"], q["key"]["tonic"]) for q in again.changed] == [(2, "C")]
    assert [(mark.before, mark.after) for mark in again.marks] == [(0.0, 1.0)]
    assert '"Now">C</td>' in page(client, "work:mark-again", step.pk)
    study = study_chart(revisions_for_study().get(pk=revision.pk))
    assert study.analysis.readings[1].key.tonic.text == "C"


def page(client: Client, name: str, *args: Any) -> str:
    answer = client.get(reverse(name, args=args))
    assert answer.status_code == 200, name
    return answer.content.decode()


def test_nothing_of_a_kind_can_be_left_out(tonics: QuestionKind) -> None:
    fields = {field.name: getattr(tonics, field.name) for field in dataclasses.fields(tonics)}
    for name in fields:
        with pytest.raises(TypeError, match=name):
            QuestionKind(**{other: value for other, value in fields.items() if other != name})
    with pytest.raises(ValueError, match="1 to 16 letters"):
        dataclasses.replace(tonics, id="tonics-of-every-bar")


def test_two_kinds_never_share_a_name_or_a_place(tonics: QuestionKind, monkeypatch: pytest.MonkeyPatch) -> None:
    assert len({row.place for row in KINDS.values()}) == len(KINDS)
    for field, value in (("id", "form"), ("place", 20)):
        module = sys.modules["drills.kinds.tonics"]
        monkeypatch.setattr(module, "QUESTION_KIND", dataclasses.replace(tonics, **{field: value}))
        question_kinds.cache_clear()
        with pytest.raises(ValueError, match=str(value)):
            question_kinds()


def test_every_keypad_is_drawn() -> None:
    drawn = (ROOT / "static/js/quiz-pad.js").read_text(encoding="utf-8")
    assert all(re.search(rf'^  "?{keypad}"?: \[', drawn, re.MULTILINE) for keypad in Keypad)
