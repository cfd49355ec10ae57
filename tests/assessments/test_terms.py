"""What an ended term still asks of people: nothing. And what is missing, of every kind of step."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assessments.kinds import KINDS
from assessments.selectors.desk import undone_steps
from assessments.selectors.review import counts, missing
from assessments.services.hand_in import log_hearing, send
from assessments.services.sign_off import sign_off, take_back
from studio.models import Ensemble
from tests import factories

pytestmark = pytest.mark.django_db
PAST = timezone.now() - timedelta(days=3)
EVERY = ("listening", "form", "function", "hand-in", "sign-off")


def page(user: Any, route: str, query: str = "") -> str:
    client = Client()
    client.force_login(user)
    return client.get(reverse(route) + query).content.decode()


def term(days: int) -> Any:
    """A term whose last day lies `days` from today."""
    today = timezone.localdate()
    return factories.make_term(f"Ends {days:+}", starts=today - timedelta(days=200), ends=today + timedelta(days=days))


@pytest.fixture
def cast() -> dict[str, Any]:
    """One ensemble that came back this term, with the same leader and player."""
    old, new = factories.make_ensemble("Octet", term=term(-1)), factories.make_ensemble("Octet", term=term(0))
    leader, player = factories.make_instructor(old), factories.make_player(old, "Pia")
    factories.make_instructor(new, user=leader)
    factories.make_player(new, user=player)
    return {"old": old, "new": new, "leader": leader, "player": player}


def steps(cast: dict[str, Any], ensemble: str, *kinds: str, **more: Any) -> dict[str, Any]:
    made = factories.make_assignment(cast[ensemble], by=cast["leader"], kinds=kinds, **{"due": PAST} | more)
    return {step.kind: step for step in made.steps.all()}


@pytest.mark.parametrize(("ensemble", "asked"), [("old", False), ("new", True)])  # the last day still counts
def test_an_ended_term_asks_for_nothing(cast: dict[str, Any], ensemble: str, asked: bool) -> None:
    steps(cast, ensemble, *EVERY)
    assert undone_steps(cast["player"]).count() == asked * len(EVERY)
    assert missing(cast["leader"]).count() == counts(cast["leader"])["missing"] == asked * len(EVERY)
    assert ("Nothing more is asked of you now" in page(cast["player"], "work:desk")) is not asked


def test_who_was_missing_can_still_be_asked_of_an_ended_term(cast: dict[str, Any]) -> None:
    made = steps(cast, "old", "function")["function"].assignment
    assert missing(cast["leader"], assignment=made.pk).count() == 1
    assert missing(cast["leader"], ensemble=cast["old"].pk).count() == 1
    assert missing(cast["leader"], ensemble=cast["new"].pk).count() == 0


def test_the_same_ensemble_is_told_apart_by_its_term_the_running_one_first(cast: dict[str, Any]) -> None:
    factories.make_instructor(
        factories.make_ensemble(
            "Octet",
            term=factories.make_term(
                "Next", starts=timezone.localdate() + timedelta(days=9), ends=timezone.localdate() + timedelta(days=99)
            ),
        ),
        user=cast["leader"],
    )
    tune = factories.make_chart_revision().version.tune_id
    names = ["Octet, Ends +0<", "Octet, Next<", "Octet, Ends -1 (ended)<"]
    for route, query in (
        ("work:assign", f"?tune={tune}"),
        ("work:queue", "?older=1"),
        ("work:ledger", "?older=1"),
        ("work:known", "?older=1"),
        ("work:assignments", "?older=1"),
    ):
        text = page(cast["leader"], route, query)
        places = [text.find(name) for name in names]
        assert -1 not in places, route
        assert places == sorted(places), route


def do(cast: dict[str, Any], step: Any) -> None:
    """Does the step once, in the way of its kind."""
    if step.kind == "listening":
        log_hearing(
            step=step, player=cast["player"], token=uuid.uuid4(), heard="The reference", on=timezone.localdate()
        )
    elif step.kind == "sign-off":
        sign_off(step=step, players=[cast["player"]], by=cast["leader"], evidence="Played it")
    elif step.kind == "hand-in":
        send(step=step, player=cast["player"], token=uuid.uuid4(), note="Here")
    else:
        factories.make_attempt(step, cast["player"], hand_in=True)


@pytest.mark.parametrize("kind", EVERY)
def test_every_kind_can_be_missing_until_it_is_done(cast: dict[str, Any], kind: str) -> None:
    step = steps(cast, "new", kind)[kind]
    row = missing(cast["leader"]).get()
    assert (row.step_kind, row.begun, row.user) == (kind, False, cast["player"])
    assert KINDS[kind].name in page(cast["leader"], "work:queue", "?state=missing")
    do(cast, step)
    assert not missing(cast["leader"]).exists()
    assert not undone_steps(cast["player"]).exists()


def test_listening_is_missing_until_it_was_heard_as_often_as_asked(cast: dict[str, Any]) -> None:
    step = steps(cast, "new", "listening")["listening"]
    step.times = 2
    step.save()
    do(cast, step)
    row = missing(cast["leader"]).get()
    assert (row.heard, row.begun) == (1, True)
    assert "1 of 2 heard" in page(cast["leader"], "work:queue", "?state=missing")
    do(cast, step)
    assert not missing(cast["leader"]).exists()


def test_a_sign_off_taken_back_is_missing_again(cast: dict[str, Any]) -> None:
    step = steps(cast, "new", "sign-off")["sign-off"]
    signed = sign_off(step=step, players=[cast["player"]], by=cast["leader"], evidence="Played it")
    take_back(sign_off_id=signed[0].pk, by=cast["leader"])
    assert missing(cast["leader"]).count() == 1


def test_the_tab_says_how_many_are_missing(cast: dict[str, Any]) -> None:
    steps(cast, "new", *EVERY)
    assert 'Not in yet <span class="quiet">5</span>' in page(cast["leader"], "work:queue")


@pytest.mark.parametrize(
    ("due", "first"),
    [
        (timedelta(days=-3), "function"),  # overdue: the player can only ask for it
        (timedelta(days=1), "sign-off"),  # to come: in its place by date
    ],
)
def test_an_overdue_sign_off_does_not_stand_first(cast: dict[str, Any], due: timedelta, first: str) -> None:
    steps(cast, "new", "sign-off", due=timezone.now() + due)
    steps(cast, "new", "function", due=timezone.now() + timedelta(days=5))
    found = [step.kind for step in undone_steps(cast["player"])]
    assert sorted(found) == ["function", "sign-off"]
    assert found[0] == first


def test_the_overview_tells_the_same_band_of_two_terms_apart(client: Client) -> None:
    day = timezone.localdate()
    spring = factories.make_term("Spring", starts=day + timedelta(days=30), ends=day + timedelta(days=90))
    now = factories.make_ensemble("Alder Combo")
    Ensemble.objects.create(name="Alder Combo", term=spring)
    client.force_login(factories.make_director())
    page = client.get(reverse("work:overview")).content.decode()
    assert page.count(">Alder Combo</a>") == 1, now.term.name
    assert page.count(">Alder Combo, Spring</a>") == 1
