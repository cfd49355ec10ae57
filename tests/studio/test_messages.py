"""Messages to ensembles, and substitutes whose rights follow their dates."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.access import chairs, is_instructor, leads, names_substitutes
from studio.models import Membership, Message, Notice, User
from studio.notices import send_digests
from tests import factories

pytestmark = pytest.mark.django_db
LONG = "Bring the changes.\n\n" + "Sing the bass note of every bar first. " * 12 + "<b>Last words</b>"


def test_a_message_is_told_once_comes_whole_in_the_letter_and_is_kept(client: Client, mailoutbox) -> None:  # type: ignore[no-untyped-def]
    ensemble = factories.make_ensemble("Morning Band")
    leader, one, two = (
        factories.make_instructor(ensemble, "Ines"),
        factories.make_player(ensemble, "Pia"),
        factories.make_player(ensemble, "Quin"),
    )
    client.force_login(leader)
    address = reverse("studio:message_new", args=[ensemble.pk])
    form = {"text": LONG, "players": [one.pk], "token": str(uuid.uuid4())}
    for _ in range(2):  # a double click
        assert client.post(address, form).status_code == 302
    (message,) = Message.objects.all()
    assert list(message.to.all()) == [one]
    assert not message.to_all
    (notice,) = Notice.objects.filter(kind="message")
    assert (notice.user, notice.text[:15]) == (one, "Ines to you: Br")
    send_digests()
    (letter,) = mailoutbox
    assert "<b>Last words</b>" in letter.body  # the letter is plain text
    client.force_login(one)
    page = client.get(reverse("studio:message", args=[message.pk])).content.decode()
    assert "&lt;b&gt;Last words" in page
    assert Notice.objects.get(kind="message").seen is not None
    client.force_login(two)
    assert client.get(reverse("studio:message", args=[message.pk])).status_code == 404
    assert "Bring the changes" not in client.get(reverse("studio:messages")).content.decode()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"text": ""}, "Write something first."),
        ({"players": []}, "Tick at least one player."),
        ({"players": ["x"]}, "field--wrong"),
        ({"players": ["99999999999999999999"]}, "field--wrong"),
        ({"token": "no"}, "reload the page"),
    ],
)
def test_what_is_wrong_loses_nothing(client: Client, data: dict[str, object], words: str) -> None:
    ensemble = factories.make_ensemble()
    client.force_login(factories.make_instructor(ensemble))
    player = factories.make_player(ensemble)
    form = {"text": "Kept words", "players": [player.pk], "token": str(uuid.uuid4())} | data
    response = client.post(reverse("studio:message_new", args=[ensemble.pk]), form)
    assert response.status_code == 422
    page = response.content.decode()
    assert words in page.replace("“", "")
    assert form["text"] in page
    assert not Message.objects.exists()


@pytest.mark.parametrize(
    ("begins", "ends", "rights"), [(0, 0, True), (-3, 3, True), (-3, -1, False), (1, 3, False), (0, 1, True)]
)
def test_the_rights_of_a_substitute_follow_the_dates(begins: int, ends: int, rights: bool) -> None:
    ensemble, today = factories.make_ensemble(), timezone.localdate()
    user = factories.make_user()
    days = {"begins": today + dt.timedelta(begins), "ends": today + dt.timedelta(ends)}
    Membership.objects.create(user=user, ensemble=ensemble, role="instructor", **days)
    user = User.objects.get(pk=user.pk)
    assert (leads(user, ensemble), is_instructor(user), chairs(user).leads_now) == (rights, rights, rights)
    assert not names_substitutes(user, ensemble)
    assert Membership.objects.leading().filter(ensemble=ensemble).exists() == rights


def test_a_leader_names_a_colleague_and_ends_it(client: Client) -> None:
    ensemble, today = factories.make_ensemble(), timezone.localdate()
    colleague = factories.make_instructor(factories.make_ensemble(), "Olaf Colleague")
    stranger = factories.make_user("Sven Stranger")
    client.force_login(factories.make_instructor(ensemble))
    address = reverse("studio:substitute", args=[ensemble.pk])
    days = {"sub-begins": today.isoformat(), "sub-ends": (today + dt.timedelta(7)).isoformat()}
    refused = client.post(address, {"sub-person": stranger.email} | days)
    assert (refused.status_code, "ask the director" in refused.content.decode()) == (422, True)
    assert client.post(address, {"sub-person": colleague.email} | days).status_code == 302
    chair = Membership.objects.get(user=colleague, ensemble=ensemble)
    assert chair.is_substitute
    client.force_login(colleague)
    assert client.get(reverse("work:ensemble", args=[ensemble.pk])).status_code == 200
    assert client.post(address, {"end": chair.pk}).status_code == 403  # has nothing to give or to take
    client.force_login(factories.make_director())
    assert client.post(address, {"end": chair.pk}).status_code == 302
    assert not Membership.objects.filter(pk=chair.pk).exists()
