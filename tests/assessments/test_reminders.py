"""Who has not begun before the date, and reminding them."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assessments.selectors.begun import waiting_for
from assessments.services.sign_off import sign_off
from studio.models import Notice
from tests import factories
from tunes.models import Listening

pytestmark = pytest.mark.django_db
KINDS = ("function", "listening", "sign-off")


def test_who_has_not_begun_and_who_is_through(client: Client) -> None:
    ensemble = factories.make_ensemble()
    leader = factories.make_instructor(ensemble)
    nobody, writes, heard, through = (factories.make_player(ensemble, name) for name in ("A", "B", "C", "D"))
    made = factories.make_assignment(
        ensemble, by=leader, kinds=KINDS, due=timezone.now() + dt.timedelta(days=3), title="Glass Hour"
    )
    steps = {step.kind: step for step in made.steps.all()}
    recording = factories.make_recording(made.tune)
    factories.make_attempt(steps["function"], writes, answers={"function:0": "1"})
    factories.make_attempt(steps["function"], nobody)  # opened, nothing answered: not begun
    for player in (heard, through):
        Listening.objects.create(player=player, recording=recording, heard_on=timezone.now())
    factories.make_attempt(steps["function"], through, hand_in=True)
    sign_off(step=steps["sign-off"], players=[through], by=leader, evidence="Played")
    waits = waiting_for(made, list(made.steps.select_related("assignment")))
    assert [(row.player.name, row.begun, row.done) for row in waits.players] == [
        ("A", 0, 0),
        ("B", 1, 0),
        ("C", 1, 1),
        ("D", 3, 3),
    ]
    assert [row.player.name for row in waits.not_begun] == ["A"]
    assert [row.player.name for row in waits.on_the_way] == ["B", "C"]

    client.force_login(leader)
    address = reverse("work:remind", args=[made.pk])
    stranger = factories.make_player(factories.make_ensemble())
    for _ in range(2):  # an unread reminder is not doubled; whoever does not play here is told nothing
        after = client.post(address, {"players": [nobody.pk, stranger.pk, "x"]}, follow=True).content.decode()
    assert "1 player reminded" in after
    (notice,) = Notice.objects.filter(kind="reminder")
    assert (notice.user, "Glass Hour, due" in notice.text) == (nobody, True)
    assert f'value="{nobody.pk}" checked' not in after  # reminded within three days
    client.post(address, {"players": [nobody.pk], "undo": "1"})
    assert not Notice.objects.filter(kind="reminder").exists()
    assert "at least one" in client.post(address, {}, follow=True).content.decode()


def test_pages_open_on_the_ensemble_in_use(client: Client) -> None:
    first, second = factories.make_ensemble("Alpha"), factories.make_ensemble("Beta")
    leader = factories.make_instructor(first)
    factories.make_instructor(second, user=leader)
    client.force_login(leader)
    assert client.get(reverse("work:ledger")).context["ensemble"] == first
    tune = factories.make_tune()
    factories.make_version(tune)
    assign = reverse("work:assign") + f"?tune={tune.pk}"
    assert client.get(assign).context["form"].initial["ensemble"] == []  # no band is guessed among several
    client.get(reverse("work:ensemble", args=[second.pk]))
    assert client.get(assign).context["form"].initial["ensemble"] == [second.pk]
    for route in ("work:ledger", "work:plan", "work:known"):
        assert client.get(reverse(route)).context["ensemble"] == second
    client.get(reverse("work:ledger") + f"?ensemble={first.pk}")
    assert client.get(reverse("work:plan")).context["ensemble"] == first
