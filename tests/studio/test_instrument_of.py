"""For which instrument a person's charts and drills are written: the chair's, where the chairs agree."""
from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import AnonymousUser
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.access import instrument_of
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


@pytest.mark.parametrize(("chairs", "written_for"), [
    ([], "trumpet"),
    ([("player", "alto-sax", {})], "alto-sax"),
    ([("player", "", {})], "trumpet"),                                              # a chair without one of its own
    ([("player", "alto-sax", {}), ("player", "alto-sax", {})], "alto-sax"),
    ([("player", "alto-sax", {}), ("player", "flute", {})], "trumpet"),             # they disagree
    ([("player", "alto-sax", {}), ("player", "", {})], "trumpet"),
    ([("player", "alto-sax", ENDED)], "trumpet"),
    ([("player", "alto-sax", ENDED), ("player", "flute", {})], "flute"),
    ([("instructor", "piano", {})], "trumpet"),
    ([("instructor", "", {}), ("player", "alto-sax", {})], "alto-sax"),
])
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
