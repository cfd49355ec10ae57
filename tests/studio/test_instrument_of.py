"""For which instrument a person's charts and drills are written: the chair's, where the chairs agree."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import AnonymousUser
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.access import doubled, instrument_of
from studio.models import Membership, User
from tests import factories

pytestmark = pytest.mark.django_db
ENDED = {"starts": dt.date(2020, 1, 1), "ends": dt.date(2020, 6, 1)}


def person(*chairs: tuple[str, str, dict[str, Any]], own: str = "trumpet") -> User:
    user = factories.make_user(instrument=own)
    for role, instrument, term in chairs:
        ensemble = factories.make_ensemble(term=factories.make_term(**term))
        Membership.objects.create(user=user, ensemble=ensemble, role=role, instrument=instrument)
    return user


@pytest.mark.parametrize(
    ("chairs", "written_for"),
    [
        ([], "trumpet"),
        ([("player", "alto-sax", {})], "alto-sax"),
        ([("player", "", {})], "trumpet"),  # a chair without one of its own
        ([("player", "alto-sax", {}), ("player", "alto-sax", {})], "alto-sax"),
        ([("player", "alto-sax", {}), ("player", "flute", {})], "trumpet"),  # they disagree
        ([("player", "alto-sax", {}), ("player", "", {})], "trumpet"),
        ([("player", "alto-sax", ENDED)], "trumpet"),
        ([("player", "alto-sax", ENDED), ("player", "flute", {})], "flute"),
        ([("instructor", "piano", {})], "trumpet"),
        ([("instructor", "", {}), ("player", "alto-sax", {})], "alto-sax"),
    ],
)
def test_the_chair_decides_where_the_chairs_agree(chairs: list[Any], written_for: str) -> None:
    assert instrument_of(person(*chairs)) == written_for


def test_nobody_signed_in_reads_concert_pitch() -> None:
    assert instrument_of(AnonymousUser()) == ""


@pytest.mark.parametrize("route", ["tunes:tune", "drills:drill"])
def test_charts_and_drills_are_written_for_the_chair(route: str, settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path  # drawn drills are kept by the id of their chart, and ids come again in other tests
    revision = factories.make_version()
    client = Client()
    client.force_login(person(("player", "alto-sax", {})))
    where = {"tunes:tune": {"pk": revision.version.tune_id}, "drills:drill": {"revision": revision.pk}}[route]
    page = client.get(reverse(route, kwargs=where)).content.decode().lower()
    assert '<option value="alto-sax" selected>' in page
    assert '<option value="trumpet" selected>' not in page


def test_today_is_the_first_and_the_last_day_of_a_term() -> None:
    today = timezone.localdate()
    assert instrument_of(person(("player", "flute", {"starts": today, "ends": today}))) == "flute"


def two_chairs() -> tuple[User, Any, Any]:
    user = person(("player", "alto-sax", {}), ("player", "flute", {}))
    first, second = (row.ensemble for row in user.memberships.select_related("ensemble").order_by("pk"))
    return user, first, second


def test_the_ensemble_in_the_address_decides_between_two_chairs() -> None:
    user, first, second = two_chairs()
    assert [instrument_of(user, e.pk) for e in (first, second)] == ["alto-sax", "flute"]
    assert [instrument_of(user, odd) for odd in (factories.make_ensemble().pk, "", "no", "1e9")] == ["trumpet"] * 4


@pytest.mark.parametrize(
    ("chairs", "choice"),
    [
        ([("player", "alto-sax", {}), ("player", "flute", {})], {"alto-sax", "flute"}),
        ([("player", "alto-sax", {}), ("player", "alto-sax", {})], set()),
        ([("player", "alto-sax", {}), ("player", "", {})], {"alto-sax", "trumpet"}),
        ([("player", "alto-sax", ENDED), ("player", "flute", {})], set()),
        ([("instructor", "piano", {}), ("player", "flute", {})], set()),
        ([], set()),
    ],
)
def test_a_choice_is_offered_where_the_chairs_differ(chairs: list[Any], choice: set[str]) -> None:
    assert set(doubled(person(*chairs))) == choice


def test_a_reed_player_with_three_instruments_chooses_among_them() -> None:
    user = person(("player", "alto-sax", {}))
    chair = user.memberships.get()
    chair.doubles = ["flute", "clarinet"]
    chair.save()
    name = chair.ensemble.name
    user = type(user).objects.get(pk=user.pk)
    assert doubled(user) == {"alto-sax": [name], "flute": [name], "clarinet": [name]}
    assert instrument_of(user, chair.ensemble_id) == "alto-sax"
    assert chair.instrument_name == "Alto saxophone, also flute, clarinet in B♭"
    tune, client = factories.make_version().version.tune, Client()
    client.force_login(user)
    page = client.get(reverse("tunes:tune", args=[tune.pk])).content.decode()
    assert [key for key in ("alto-sax", "flute", "clarinet") if f"for={key}&amp;" in page] == [
        "alto-sax",
        "flute",
        "clarinet",
    ]


def test_a_tune_opened_from_an_assignment_is_written_for_its_chair() -> None:
    """Alto saxophone in E flat reads a major sixth above concert, flute at concert pitch: common practice, no source."""
    user, first, second = two_chairs()
    made = factories.make_assignment(second, kinds=("function",))
    client = Client()
    client.force_login(user)
    for page in (reverse("work:assignment", args=[made.pk]), reverse("work:step", args=[made.steps.get().pk])):
        assert (
            f'{reverse("tunes:tune", args=[made.tune_id])}?ensemble={second.pk}"' in client.get(page).content.decode()
        )
    for ensemble, key, other in ((first, "alto-sax", "flute"), (second, "flute", "alto-sax")):
        page = client.get(reverse("tunes:tune", args=[made.tune_id]), {"ensemble": ensemble.pk}).content.decode()
        assert f'<option value="{key}" selected>' in page
        (chosen,) = re.findall(r'<a href="[^"]*for=([a-z-]+)[^"]*" aria-current="true">', page)
        assert chosen == key
        assert f"for={other}&amp;" in page
