"""A later date or an excuse for one player: lateness, what is missing, the desk, the ledger. One plan for several ensembles."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assessments.models import Assignment, Leeway, Step
from assessments.selectors.desk import states_of, undone_steps
from assessments.selectors.ledger import own_page
from assessments.selectors.review import missing
from assessments.services.leeway import give, take_back
from tests import factories

pytestmark = pytest.mark.django_db
PAST, COMING = timezone.now() - dt.timedelta(days=2), timezone.now() + dt.timedelta(days=5)


@pytest.fixture
def cast() -> dict[str, Any]:
    ensemble = factories.make_ensemble()
    leader = factories.make_instructor(ensemble, "Ines")
    players = [factories.make_player(ensemble, name) for name in ("Ana", "Ben", "Cy")]
    made = factories.make_assignment(ensemble, by=leader, kinds=("function",), due=PAST)
    return {"leader": leader, "players": players, "made": made, "step": made.steps.get(), "ensemble": ensemble}


def step_again(cast: dict[str, Any]) -> Step:
    return Step.objects.select_related("assignment__ensemble").get(pk=cast["step"].pk)


@pytest.mark.parametrize(
    ("fields", "late", "is_missing", "overdue", "asked"),
    [
        (None, True, True, True, True),
        ({"due": COMING, "excused": False}, False, False, False, True),
        ({"due": PAST + dt.timedelta(days=1), "excused": False}, True, True, True, True),
        ({"due": None, "excused": True}, False, False, False, False),
    ],
)
def test_what_one_player_is_given(
    cast: dict[str, Any], fields: dict[str, Any] | None, late: bool, is_missing: bool, overdue: bool, asked: bool
) -> None:
    player, step = cast["players"][0], step_again(cast)
    if fields:
        give(steps=[step], player=player, reason="Away", by=cast["leader"], **fields)
    names = {row.user.name for row in missing(cast["leader"])}
    assert ("Ana" in names, {"Ben", "Cy"} <= names) == (is_missing, True)
    (state,) = states_of(player, [step_again(cast)])
    assert (state.overdue, state.excused) == (overdue, not asked)
    assert undone_steps(player).exists() == asked
    ((_, standing),) = own_page(player, [cast["made"].tune], for_player=False)
    assert ("function" in standing.missing) == asked
    assert factories.make_attempt(step_again(cast), player, hand_in=True).late == late
    assert factories.make_attempt(step_again(cast), cast["players"][1], hand_in=True).late


def test_it_is_given_and_taken_back_on_the_page(client: Client, cast: dict[str, Any]) -> None:
    done = factories.make_attempt(step_again(cast), cast["players"][0], hand_in=True)
    client.force_login(cast["leader"])
    address, player = reverse("work:leeway", args=[cast["made"].pk]), cast["players"][0].pk
    early = timezone.localdate(PAST).isoformat()  # a later date is later than the one that all have
    for wrong in ({"player": player}, {"player": "x", "due": "2030-01-01"}, {"player": player, "due": "soon"},
                  {"player": player, "due": early}):  # fmt: skip
        assert client.post(address, {f"leeway-{name}": value for name, value in wrong.items()}).status_code == 422
    day = timezone.localdate() + dt.timedelta(days=3)
    form = {"leeway-player": player, "leeway-due": day.isoformat(), "leeway-reason": "Tour"}
    assert client.post(address, form).status_code == 302
    row = Leeway.objects.get()
    assert (timezone.localdate(row.due), row.reason) == (day, "Tour")
    done.refresh_from_db()
    assert not done.late  # it came before the new date
    assert "had until" in client.get(reverse("work:queue")).content.decode()
    assert "Tour" in client.get(address).content.decode()
    other = factories.make_assignment(cast["ensemble"], by=cast["leader"])
    take_back(assignment=other, leeway_id=row.pk)  # of another assignment: nothing
    assert Leeway.objects.exists()
    client.post(address, {"back": row.pk})
    assert not Leeway.objects.exists()


def assigning(revision: Any, **more: Any) -> dict[str, Any]:
    return {
        "tune": revision.version.tune_id,
        "revision": revision.pk,
        "title": "Together",
        "strictness": "quality",
        "alternatives": "part",
        "attempts_allowed": 1,
        "release": "due",
        "pitch_in": "written",
        "token": str(uuid.UUID(int=5)),
        "all_due": "2030-05-31",
        "past": "yes",  # after the term, and meant
    } | more


@pytest.mark.parametrize(
    ("more", "dues"),
    [
        ({}, ["05-31", "05-31", "05-31"]),
        ({"rhythm": "3"}, ["05-31", "06-03", "06-06"]),
        ({"rhythm": "3", "step-form-due": "2030-06-10"}, ["05-31", "06-10", "06-13"]),
        ({"step-form-due": "2030-06-10"}, ["05-31", "06-10", "05-31"]),
    ],
)
def test_one_plan_for_several_ensembles_with_one_rhythm(client: Client, more: dict[str, str], dues: list[str]) -> None:
    both = [factories.make_ensemble("One"), factories.make_ensemble("Two")]
    leader = factories.make_instructor(both[0])
    factories.make_instructor(both[1], user=leader)
    client.force_login(leader)
    steps = {f"step-{kind}-on": "on" for kind in ("function", "form", "key-areas")}
    places = {"step-key-areas-place": "0", "step-form-place": "1", "step-function-place": "2"}
    form = assigning(factories.make_chart_revision(), ensemble=[e.pk for e in both]) | steps | places | more
    for _ in range(2):  # a double click makes nothing twice
        assert client.post(reverse("work:assign"), form).status_code == 302
    assert {a.ensemble for a in Assignment.objects.all()} == set(both)
    assert Assignment.objects.count() == 2
    for made in Assignment.objects.all():
        found = [(s.kind, f"{timezone.localtime(s.due):%m-%d}") for s in made.steps.all()]
        assert found == list(zip(("key-areas", "form", "function"), dues, strict=True))


def test_as_last_time(client: Client) -> None:
    ensemble = factories.make_ensemble()
    leader = factories.make_instructor(ensemble)
    before = factories.make_assignment(
        ensemble, by=leader, kinds=("form", "listening"), due=COMING, attempts_allowed=5, strictness="numerals"
    )
    client.force_login(leader)
    tune = factories.make_chart_revision("Another").version.tune
    page = client.get(reverse("work:assign") + f"?tune={tune.pk}&like={before.pk}")
    form, steps = page.context["form"], page.context["steps"]
    assert (form["attempts_allowed"].value(), form["strictness"].value(), form["title"].value()) == (
        5,
        "numerals",
        "Another",
    )
    assert [row.kind.id for row in steps.rows if row["on"].value()] == ["listening", "form"]
    assert {row["due"].value() for row in steps.rows if row["on"].value()} == {timezone.localdate(COMING)}
