"""A player questions how a chord is read, at that chord: it reaches the queue, the answer stays, and feeds the overrule."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assessments.models import ReadingQuestion
from studio.models import Notice, User
from tests import factories
from tunes import access
from tunes.models import ChartRevision

pytestmark = pytest.mark.django_db
HEARD = "The bass <i>rests</i> there."


@pytest.fixture
def cast() -> dict[str, Any]:
    ensemble = factories.make_ensemble()
    people = {
        "leader": factories.make_instructor(ensemble, "Ines"),
        "other_leader": factories.make_instructor(factories.make_ensemble(), "Otto"),
        "pia": factories.make_player(ensemble, "Pia"),
        "quin": factories.make_player(ensemble, "Quin"),
    }
    return people | {"revision": factories.make_version(factories.make_tune("Alder"), "key: F\n| F6 | Gm7 C7 | F6 |")}


def signed_in(person: User) -> Client:
    client = Client()
    client.force_login(person)
    return client


def place(revision: ChartRevision, event: int = 1) -> str:
    return reverse("work:reading-question", args=[revision.pk, event])


def ask(cast: dict[str, Any], text: str = HEARD, token: str = "", person: str = "pia") -> Any:
    token = token or str(uuid.uuid4())
    return signed_in(cast[person]).post(place(cast["revision"]), {"text": text, "token": token})


def test_it_reaches_the_queue_of_who_leads_the_player_and_nobody_else(cast: dict[str, Any]) -> None:
    token = str(uuid.uuid4())
    assert [ask(cast, token=token).status_code for _ in range(2)] == [302, 302]  # a double click asks once
    again = ask(cast, "Once more")
    assert again.status_code == 422
    assert "Once more" in again.text
    (asked,) = ReadingQuestion.objects.all()
    assert asked.read_as == "Gm7 in bar 2, ii7 in F major"
    assert [notice.user.name for notice in Notice.objects.filter(kind="questioned")] == ["Ines"]
    queue = signed_in(cast["leader"]).get(reverse("work:queue") + "?state=questions")
    assert "The bass &lt;i&gt;rests" in queue.text
    assert {key: count for key, _, count in queue.context["tabs"]}["questions"] == 1
    assert HEARD.split()[0] not in signed_in(cast["quin"]).get(place(cast["revision"])).text.partition("<main")[2]
    other = signed_in(cast["other_leader"])
    assert other.get(reverse("work:reading-answer", args=[asked.pk])).status_code == 404
    assert "questions" in {key: count for key, _, count in other.get(reverse("work:queue")).context["tabs"]}


def test_the_answer_stays_at_the_chord_and_an_accepted_one_feeds_the_overrule(cast: dict[str, Any]) -> None:
    ask(cast)
    asked, lead = ReadingQuestion.objects.get(), signed_in(cast["leader"])
    address = reverse("work:reading-answer", args=[asked.pk])
    for wrong in (
        {},
        {"outcome": "overrule"},
        {"answer": "Kept words"},
        {"outcome": "sideways", "answer": "Kept words"},
    ):
        refused = lead.post(address, wrong)
        assert refused.status_code == 422
        assert wrong.get("answer", "") in refused.text
    went = lead.post(address, {"outcome": "overrule", "answer": "Heard so."})
    assert went.url.startswith(reverse("tunes:event", args=[cast["revision"].pk, 1]))
    form = lead.get(went.url).context["form"]
    assert form.initial["why"] == f"Pia asked: {HEARD}"
    assert lead.post(address, {"outcome": "kept", "answer": "No."}).status_code == 422  # somebody was first
    theirs = signed_in(cast["pia"]).get(place(cast["revision"])).text
    assert "Heard so." in theirs
    assert "&lt;i&gt;rests" in theirs
    notice = Notice.objects.get(user=cast["pia"], kind="answered")
    assert notice.url == place(cast["revision"])
    assert ask(cast, "And the next time?").status_code == 302  # answered: there may be another


def test_what_is_held_back_is_not_told_and_what_is_not_there_is_not_found(
    cast: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    play = signed_in(cast["pia"])
    assert play.get(place(cast["revision"], 99)).status_code == 404
    assert play.post(place(cast["revision"]), {"text": "", "token": "x"}).status_code == 422
    hold = access.Hold("A quiz is open.")
    monkeypatch.setattr(access, "_HOLDS", [lambda user, tunes: dict.fromkeys(tunes, hold)])
    assert play.get(place(cast["revision"])).status_code == 403
    assert ask(cast).status_code == 403
