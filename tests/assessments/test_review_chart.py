"""Answers in the form itself: shapes say what was missed, every answer has its place, counts for the ensemble."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from assessments.services.review import override
from tests import factories

pytestmark = pytest.mark.django_db
FOLDED = "key: Bb major\n\nA:\n|: Cm7 F7 | Bbmaj7 | [1.] Gm7 C7 | Fmaj7 :| [2.] Gm7 | Bbmaj7 |"


@pytest.mark.parametrize("text", [factories.CHART, FOLDED])
def test_every_answer_stands_once_in_the_form(client: Client, text: str) -> None:
    ensemble = factories.make_ensemble()
    leader, player = factories.make_instructor(ensemble), factories.make_player(ensemble)
    revision = factories.make_chart_revision(text=text)
    step = factories.make_assignment(ensemble, by=leader, revision=revision).steps.get()
    done = factories.make_attempt(step, player, answers={"function:0": "1", "function:1": "banana"}, hand_in=True)
    override(
        attempt_id=done.pk, by=leader, version=done.version, question="function:2", points=0.4, reason="Half of it"
    )
    client.force_login(leader)
    page = client.get(reverse("work:sheet", args=[done.pk])).content.decode()
    total = len(step.quiz.ids)
    assert sorted(map(int, re.findall(r'id="said-(\d+)"', page))) == list(range(total))
    assert sorted(map(int, re.findall(r'id="why-(\d+)"', page))) == list(range(total))
    places = {position: found for found, position in re.findall(r'class="said said--(\w+)" id="said-(\d+)"', page)}
    assert (places["1"], places["2"], places[str(total - 1)]) == ("missed", "part", "blank")
    assert "0.4 <em>given</em>" in page
    heard = client.get(reverse("work:sheet-heard", args=[done.pk]))
    assert (heard.status_code, heard.content) == (200, b"")  # no recording with the form on it: nothing to press
    assert 'aria-label="Main"' in page  # the way around is still there
    assert "said--" not in client.get(reverse("work:sheet", args=[done.pk]) + "?view=list").content.decode()


def test_the_ensemble_counts_players_who_missed_it_wholly(client: Client) -> None:
    ensemble = factories.make_ensemble()
    leader = factories.make_instructor(ensemble)
    step = factories.make_assignment(ensemble, by=leader).steps.get()
    players = [factories.make_player(ensemble, f"Player {n}") for n in range(3)]
    for n, player in enumerate(players):  # the first chord is missed by two, the second by nobody
        answers = {"function:0": "banana" if n else "Imaj7", "function:1": "iiø7"}
        factories.make_attempt(step, player, answers=answers, hand_in=True)
    client.force_login(leader)
    page = client.get(reverse("work:ensemble-sheet", args=[step.pk]))
    rows = {row.question["id"]: row for row in page.context["rows"]}
    assert [(rows[q].wholly, rows[q].height) for q in ("function:0", "function:1")] == [(2, 6), (0, 0)]
    (most, bar) = page.context["most"][0]
    assert (most.wholly, len(page.context["most"])) == (3, 5)  # what nobody wrote
    assert [a.player.name for a in page.context["who"][most.question["id"]]] == ["Player 0", "Player 1", "Player 2"]
    assert bar.startswith("bar ")
