"""Calendar feeds: RFC 5545 (sections 3.1, 3.6, 3.6.1), read back; who may read them, and what they never tell."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from icalendar import Calendar

from api.campus.calendar import make_feed
from api.models import Feed
from assessments.models import Leeway, PlannedTune, SetList, SetTune, Step
from tests import factories
from tunes.models import Tune

pytestmark = pytest.mark.django_db
DUE = timezone.now().replace(microsecond=0) + dt.timedelta(days=3)


@pytest.fixture
def cast() -> dict[str, Any]:
    ensemble = factories.make_ensemble()
    instructor, player = factories.make_instructor(ensemble), factories.make_player(ensemble)
    made = factories.make_assignment(ensemble, by=instructor)
    made.steps.update(due=DUE)
    Tune.objects.filter(pk=made.tune_id).update(title="Copper; Lanterns, by the long wide river that bends twice")
    PlannedTune.objects.create(ensemble=ensemble, tune=factories.make_tune(), position=1, known_by=timezone.localdate())
    return {"ensemble": ensemble, "instructor": instructor, "player": player, "made": made}


def read(owner: Any, ensemble: Any = None) -> Any:
    return Client().get(f"/api/calendar/{make_feed(owner=owner, ensemble=ensemble)}.ics")


def test_a_players_due_dates(cast: dict[str, Any]) -> None:
    answer = read(cast["player"])
    assert answer.headers["Content-Type"].startswith("text/calendar")
    raw = answer.content
    assert raw.startswith(b"BEGIN:VCALENDAR\r\n")
    assert all(len(line) <= 75 for line in raw.split(b"\r\n")), "3.1: lines fold at 75 octets"
    found = Calendar.from_ical(raw)
    (event,) = found.walk("VEVENT")
    assert event["summary"].startswith("Due: Copper; Lanterns, by the long wide river that bends twice, ")
    assert event.decoded("dtstart") == DUE
    assert {"UID", "DTSTAMP"} <= set(event), "3.6.1: required"
    assert b"\\;" in raw, "3.3.11: a semicolon of a text is escaped"


@pytest.mark.parametrize(
    ("who", "about", "events"),
    [("instructor", True, 2), ("player", True, 1), ("player", False, 1), ("instructor", False, 0)],
)
def test_what_stands_in_each(cast: dict[str, Any], who: str, about: bool, events: int) -> None:
    """The plan of repertoire is the leader's."""
    answer = read(cast[who], cast["ensemble"] if about else None)
    assert len(Calendar.from_ical(answer.content).walk("VEVENT")) == events


def test_the_address_ends(cast: dict[str, Any]) -> None:
    key = make_feed(owner=cast["player"], ensemble=cast["ensemble"])
    assert Client().get(f"/api/calendar/{key}.ics").status_code == 200
    cast["ensemble"].memberships.filter(user=cast["player"]).delete()
    assert Client().get(f"/api/calendar/{key}.ics").status_code == 404, "who has left the ensemble reads nothing of it"
    own = make_feed(owner=cast["player"], ensemble=None)
    client = Client()
    client.force_login(cast["player"])
    assert client.post(f"/api/calendar/{Feed.objects.first().pk}/end").status_code == 302  # type: ignore[union-attr]
    assert Client().get(f"/api/calendar/{own}.ics").status_code == 404
    assert Client().get("/api/calendar/none.ics").status_code == 404


def test_a_closed_assignment_leaves_the_calendar(cast: dict[str, Any]) -> None:
    cast["made"].closed = timezone.now()
    cast["made"].save()
    assert Calendar.from_ical(read(cast["player"]).content).walk("VEVENT") == []


def summaries(owner: Any, ensemble: Any = None) -> dict[str, Any]:
    found = Calendar.from_ical(read(owner, ensemble).content).walk("VEVENT")
    return {str(event["summary"]): event for event in found}


def test_run_throughs_and_set_lists_are_in_the_feeds_of_who_plays_and_who_leads(cast: dict[str, Any]) -> None:
    made, ensemble = cast["made"], cast["ensemble"]
    Step.objects.create(assignment=made, position=9, kind="sign-off", due=DUE)
    day = timezone.localdate() + dt.timedelta(days=9)
    played = SetList.objects.create(ensemble=ensemble, on=day, where="The hall; upstairs", made_by=cast["instructor"])
    SetTune.objects.create(set_list=played, revision=made.revision, position=1)
    SetList.objects.create(ensemble=ensemble, on=day - dt.timedelta(days=200), made_by=cast["instructor"])
    elsewhere = factories.make_ensemble()
    SetList.objects.create(ensemble=elsewhere, on=day, made_by=cast["instructor"])
    run, title = f"Run-through: {Tune.objects.get(pk=made.tune_id).title}, Sign-off in person", f"Set: {ensemble.name}"
    for who, about in (("player", None), ("player", ensemble), ("instructor", None), ("instructor", ensemble)):
        assert {run, title} <= set(summaries(cast[who], about)), (who, about)
    event = summaries(cast["player"])[title]
    assert (event.decoded("dtstart"), str(event["location"])) == (day, "The hall; upstairs")
    assert str(event["description"]).startswith("1. Copper; Lanterns")
    other = factories.make_player(elsewhere)
    assert set(summaries(other)) == {f"Set: {elsewhere.name}"}, "nothing of another ensemble"


def test_a_persons_own_dates(cast: dict[str, Any]) -> None:
    step = cast["made"].steps.get()
    Step.objects.filter(pk=step.pk).update(due=timezone.now() - dt.timedelta(days=300))
    assert summaries(cast["player"]) == {}
    leeway = Leeway.objects.create(step=step, player=cast["player"], due=DUE, by=cast["instructor"])
    (event,) = summaries(cast["player"]).values()
    assert event.decoded("dtstart") == DUE, "the later date that was given"
    Step.objects.filter(pk=step.pk).update(due=DUE)
    Leeway.objects.filter(pk=leeway.pk).update(due=None, excused=True)
    assert summaries(cast["player"]) == {}
    assert len(summaries(cast["player"], cast["ensemble"])) == 1, "the date of the ensemble stands in its own feed"
