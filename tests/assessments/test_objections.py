"""A player questions a mark or a reading; the answer is kept, and accepting it counts for everyone who wrote the same."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assessments.models import MarkOverride, Objection
from studio.models import Notice
from tests import factories

pytestmark = pytest.mark.django_db
WROTE = "banana"  # no function at all, so that it earns nothing


@pytest.fixture
def sheet() -> dict[str, Any]:
    """One player who wrote something else at the first chord, another who wrote the same."""
    ensemble = factories.make_ensemble()
    leader = factories.make_instructor(ensemble, "Ines")
    players = [factories.make_player(ensemble, name) for name in ("Pia", "Quin")]
    made = factories.make_assignment(ensemble, by=leader)
    step = made.steps.get()
    done = [factories.make_attempt(step, p, answers={"function:0": WROTE}, hand_in=True) for p in players]
    return {"leader": leader, "players": players, "step": step, "done": done}


def ask(client: Client, sheet: dict[str, Any], **more: str) -> Any:
    client.force_login(sheet["players"][0])
    form = {
        "question": "function:0",
        "about": "mark",
        "text": "The bass <i>rests</i> there.",
        "token": str(uuid.uuid4()),
    }
    return client.post(reverse("work:question", args=[sheet["done"][0].pk]), form | more)


def test_it_reaches_the_queue_and_accepting_it_counts_for_everyone(client: Client, sheet: dict[str, Any]) -> None:
    token = str(uuid.uuid4())
    for _ in range(2):  # a double click asks once
        assert ask(client, sheet, token=token).status_code == 302
    ask(client, sheet)  # the same place again, not answered yet
    (asked,) = Objection.objects.all()
    assert Notice.objects.filter(user=sheet["leader"], kind="questioned").count() == 1
    client.force_login(sheet["leader"])
    queue = client.get(reverse("work:queue") + "?state=questions").content.decode()
    assert "The bass &lt;i&gt;rests" in queue
    address = reverse("work:objection", args=[asked.pk])
    page = client.get(address).content.decode()
    assert all(words in page for words in ("Pia asks about bar 1", WROTE, "Quin (bar 1)", "&lt;i&gt;rests"))
    for wrong in ({}, {"outcome": "here"}, {"answer": "Kept words"}, {"outcome": "sideways", "answer": "Kept words"}):
        response = client.post(address, wrong)
        assert response.status_code == 422
        assert wrong.get("answer", "") in response.content.decode()
    assert not MarkOverride.objects.exists()
    assert client.post(address, {"outcome": "here", "answer": "Heard so."}).status_code == 302
    assert {row.attempt.player.name for row in MarkOverride.objects.select_related("attempt__player")} == {
        "Pia",
        "Quin",
    }
    assert client.post(address, {"outcome": "kept", "answer": "No."}).status_code == 422  # somebody was first
    asked.refresh_from_db()
    assert (asked.outcome, asked.answer, asked.answered_by) == ("accepted", "Heard so.", sheet["leader"])
    client.force_login(sheet["players"][0])
    theirs = client.get(reverse("work:attempt", args=[sheet["done"][0].pk])).content.decode()
    assert "Heard so." in theirs
    assert Notice.objects.filter(user=sheet["players"][0], kind="answered").count() == 1


def test_a_reading_that_is_wrong_leads_to_the_overrule(client: Client, sheet: dict[str, Any]) -> None:
    ask(client, sheet, about="label")
    asked = Objection.objects.get()
    client.force_login(sheet["leader"])
    response = client.post(reverse("work:objection", args=[asked.pk]), {"outcome": "label", "answer": "You are right."})
    assert response.headers["Location"] == reverse("tunes:event", args=[sheet["step"].assignment.revision_id, 0])
    assert not MarkOverride.objects.exists()


def test_a_blank_is_not_accepted(client: Client, sheet: dict[str, Any]) -> None:
    ask(client, sheet, question="function:1")
    client.force_login(sheet["leader"])
    response = client.post(
        reverse("work:objection", args=[Objection.objects.get().pk]), {"outcome": "same", "answer": "Yes"}
    )
    assert (response.status_code, "There is no answer to accept" in response.content.decode()) == (422, True)


@pytest.mark.parametrize("more", [{"text": ""}, {"about": "you"}, {"token": "x"}, {"question": "nothing:9"}])
def test_what_cannot_be_asked(client: Client, sheet: dict[str, Any], more: dict[str, str]) -> None:
    assert ask(client, sheet, **more).status_code in (302, 404)
    assert not Objection.objects.exists()
