"""Planning a term: what is planned, what the ensemble knows of it, what it shares with what they know."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assessments.models import Evidence, PlannedTune, ProgrammeRequirement
from assessments.selectors import plan as read
from assessments.services import plan as write
from studio.models import Ensemble, User
from tests import factories

pytestmark = pytest.mark.django_db
II_V_I = "key: F major\n\nA:\n| Gm7 | C7 | Fmaj7 | % |"
BLUES = "key: F major\n\nA:\n| F7 | Bb7 | F7 | C7 |"


class Cast:
    def __init__(self) -> None:
        self.ensemble = factories.make_ensemble("Octet")
        self.leader = factories.make_instructor(self.ensemble)
        self.players = [factories.make_player(self.ensemble, f"P{n}") for n in range(2)]
        self.client = Client()
        self.client.force_login(self.leader)
        ProgrammeRequirement.objects.create(kind="function", pass_mark=80, position=0)

    def plan(self, *titles: str, text: str = II_V_I) -> list[PlannedTune]:
        return [
            write.plan_tune(
                ensemble=self.ensemble,
                tune=factories.make_version(factories.make_tune(title), text).version.tune,
                known_by=None,
                by=self.leader,
            )
            for title in titles
        ]

    def done(self, player: User, tune: Any, *kinds: str, percent: int = 100) -> None:
        for kind in kinds:
            Evidence.objects.create(
                player=player,
                tune_id=tune,
                ensemble=self.ensemble,
                kind=kind,
                what="So",
                percent=percent,
                on=timezone.now(),
                by=self.leader,
            )

    def page(self, query: str = "") -> str:
        answer = self.client.get(reverse("work:plan") + query)
        assert answer.status_code == 200
        return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


@pytest.fixture
def cast() -> Cast:
    return Cast()


def titles(ensemble: Ensemble) -> list[str]:
    return [row.tune.title for row in read.planned(ensemble)]


@pytest.mark.parametrize(
    ("moves", "order"),
    [
        ([], "ABC"),
        ([("A", 1)], "BAC"),
        ([("C", -1)], "ACB"),
        ([("A", -1)], "ABC"),
        ([("C", 1)], "ABC"),
        ([("A", 1), ("A", 1)], "BCA"),
        ([("C", -1), ("C", -1), ("B", 1)], "CAB"),
    ],
)
def test_tunes_keep_the_order_they_are_given(cast: Cast, moves: list[tuple[str, int]], order: str) -> None:
    cast.plan("A", "B", "C")
    for title, by in moves:
        write.move(row=PlannedTune.objects.get(tune__title=title), by=by)
    assert titles(cast.ensemble) == list(order)


@pytest.mark.parametrize(
    ("title", "place", "order"),
    [
        ("A", 1, "ABC"),
        ("A", 2, "BAC"),
        ("A", 3, "BCA"),
        ("A", 99, "BCA"),
        ("C", 1, "CAB"),
        ("B", 0, "BAC"),
    ],
)
def test_a_tune_goes_to_the_place_it_is_given(cast: Cast, title: str, place: int, order: str) -> None:
    cast.plan("A", "B", "C")
    write.move_to(row=PlannedTune.objects.get(tune__title=title), place=place)
    assert titles(cast.ensemble) == list(order)


def test_a_tune_is_planned_once_and_gets_its_new_day(cast: Cast) -> None:
    (row,) = cast.plan("A")
    again = write.plan_tune(ensemble=cast.ensemble, tune=row.tune, known_by=dt.date(2030, 5, 1), by=cast.leader)
    assert (again.pk, PlannedTune.objects.get().known_by) == (row.pk, dt.date(2030, 5, 1))


def test_a_plan_has_an_end(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(write, "MOST", 2)
    cast.plan("A", "B")
    factories.make_tune("C")
    answer = cast.client.post(reverse("work:plan"), {"tune": "C"})
    assert (answer.status_code, b"has room for 2 tunes" in answer.content) == (422, True)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"tune": ""}, "required"),
        ({"tune": "Zzz"}, "No tune of the repertoire"),
        ({"tune": "ald"}, "Several tunes fit"),
        ({"tune": "Birch", "known_by": "soon"}, "year-month-day"),
    ],
)
def test_what_cannot_be_planned_says_why(cast: Cast, data: dict[str, str], says: str) -> None:
    for title in ("Alder", "Aldwych", "Birch"):
        factories.make_tune(title)
    answer = cast.client.post(reverse("work:plan"), data)
    assert (answer.status_code, says in answer.content.decode()) == (422, True)
    assert not PlannedTune.objects.exists()


def test_planned_dated_and_taken_out_by_the_page(cast: Cast) -> None:
    factories.make_tune("Alder")
    cast.client.post(reverse("work:plan"), {"tune": "alder", "known_by": "2030-05-31"})
    row = PlannedTune.objects.get()
    assert (row.ensemble, row.known_by, row.added_by) == (cast.ensemble, dt.date(2030, 5, 31), cast.leader)
    address = reverse("work:plan-change", args=[row.pk])
    wrong = cast.client.post(address, {"act": "day", "known_by": "31.5.30"}, follow=True)
    assert "year-month-day" in wrong.content.decode()
    cast.client.post(address, {"act": "day", "known_by": ""})
    assert PlannedTune.objects.get().known_by is None
    cast.client.post(address, {"act": "nonsense"})
    cast.client.post(address, {"act": "out"})
    assert not PlannedTune.objects.exists()


def test_what_is_undone_is_counted_by_player_and_step(cast: Cast) -> None:
    first, _ = cast.plan("A", "B")
    one, two = cast.players
    cast.done(one, first.tune_id, "function", "sign-off")
    cast.done(two, first.tune_id, "function", percent=79)
    said = cast.page()
    assert "1 of 2 know it Undone: function of every chord (1), sign-off in person (1)" in said
    assert "0 of 2 know it Undone: function of every chord (2), sign-off in person (2)" in said
    assert "Every one of them knows no tune yet" in said
    cast.done(two, first.tune_id, "function", "sign-off")
    assert "Every one of them knows A" in cast.page()
    assert "2 of 2 know it Every step is done" in cast.page()


@pytest.mark.parametrize("show", ["", "?show=progressions"])
def test_a_day_that_has_passed_is_told_while_somebody_does_not_know_the_tune(cast: Cast, show: str) -> None:
    (row,) = cast.plan("A")
    write.set_day(row=row, known_by=timezone.localdate() - dt.timedelta(days=1))
    one, two = cast.players
    cast.done(one, row.tune_id, "function", "sign-off")
    assert " past " in cast.page(show)
    cast.done(two, row.tune_id, "function", "sign-off")
    assert " past " not in cast.page(show)


def test_progressions_they_know_from_other_tunes(cast: Cast) -> None:
    factories.make_idiom("homecoming", "2min 5dom 1maj")
    known, _ = cast.plan("Known", "Asked")
    for player in cast.players:
        cast.done(player, known.tune_id, "function", "sign-off")
    cast.plan("Other", text=BLUES)
    said = cast.page("?show=progressions")
    assert "homecoming : known from Known" in said
    assert "homecoming : new to them" in said  # the known tune itself holds it, and no other that they know
    assert "None of the progressions that the programme has named" in said


def test_an_ensemble_without_players_counts_the_last_of_its_name(cast: Cast) -> None:
    today = timezone.localdate()
    term = factories.make_term("Next", starts=today + dt.timedelta(days=90), ends=today + dt.timedelta(days=180))
    later = factories.make_ensemble("Octet", term=term)
    factories.make_instructor(later, user=cast.leader)
    assert set(read.players_for(later).ids) == {player.pk for player in cast.players}
    cast.leader.__dict__.pop("_chairs", None)
    assert f"counted are the 2 of {cast.ensemble.in_term}" in cast.page(f"?ensemble={later.pk}")
    stranger = factories.make_ensemble("Quartet", term=term)
    assert read.players_for(stranger).ids == ()
    assert cast.client.get(reverse("work:plan") + f"?ensemble={stranger.pk}").status_code == 404
