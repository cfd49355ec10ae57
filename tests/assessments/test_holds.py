"""The analysis of a tune is its answer key: when a player may see it (our own rule, common practice in class)."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from api.scopes import SCOPE_IDS
from api.tokens import make_token
from assessments.services.assign import release_answers
from tests import factories
from tunes.access import Hold, held_back, unnamed_forms
from tunes.models import Tune
from tunes.study import study_chart

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast() -> dict[str, Any]:
    ensemble = factories.make_ensemble()
    return {
        "ensemble": ensemble,
        "player": factories.make_player(ensemble),
        "instructor": factories.make_instructor(ensemble),
        "stranger": factories.make_player(factories.make_ensemble()),
    }


def make(cast: dict[str, Any], **fields: Any) -> Any:
    return factories.make_assignment(cast["ensemble"], by=cast["instructor"], **fields)


@pytest.mark.parametrize(
    ("kinds", "held"),
    [
        (("function",), True),
        (("key-areas",), True),
        (("form",), False),
        (("listening", "sign-off"), False),
    ],
)
def test_which_steps_hold_the_analysis_back(cast: dict[str, Any], kinds: tuple[str, ...], held: bool) -> None:
    made = make(cast, kinds=kinds)
    assert bool(held_back(cast["player"], [made.tune_id])) is held
    assert held_back(cast["stranger"], [made.tune_id]) == {}
    assert held_back(cast["instructor"], [made.tune_id]) == {}


def test_it_opens_with_the_answers(cast: dict[str, Any]) -> None:
    made = make(cast, release="by-hand")
    step = made.steps.get()
    factories.make_attempt(step, cast["player"], hand_in=True)
    assert held_back(cast["player"], [made.tune_id])
    release_answers(assignment=made)
    assert held_back(cast["player"], [made.tune_id]) == {}
    factories.make_attempt(step, cast["player"])  # a second attempt is being written
    assert held_back(cast["player"], [made.tune_id])


def test_an_ended_term_holds_nothing(cast: dict[str, Any]) -> None:
    made = make(cast)
    term = made.ensemble.term
    term.ends = timezone.localdate() - timedelta(days=1)
    term.save()
    assert held_back(cast["player"], [made.tune_id]) == {}


def test_the_page_shows_the_chart_without_its_functions(cast: dict[str, Any]) -> None:
    made = make(cast)
    pages = {}
    for role in ("player", "instructor"):
        client = Client()
        client.force_login(cast[role])
        address = reverse("tunes:version", args=[made.tune_id, made.revision.version_id])
        pages[role] = client.get(address).content.decode()
    assert "they open when yours are out" in pages["player"]
    applied = {
        reading.function.numeral
        for reading in study_chart(made.revision).analysis.readings
        if "/" in reading.function.numeral
    }
    assert applied
    assert all(f"data-function>{label}<" in pages["instructor"] for label in applied)
    assert "data-function" not in pages["player"]


# --- the name of the form, while a quiz on it is open

NAMES_FORM = [  # route, kind of address, query; all of them name the form once it is open
    ("tunes:tune", "tune", ""),
    ("tunes:version", "version", ""),
    ("tunes:index", "", ""),
    ("tunes:index", "", "?q=Ballroom"),
    ("tunes:memory-sheet", "only-tune", ""),
    ("api:tunes", "", ""),
    ("api:tune", "tune", ""),
    ("api:revision", "one", ""),
]
AABA = (
    "key: F major\nform: AABA\n\nA:\n"
    + "| F | Dm7 | Gm7 | C7 |" * 2
    + "\nA:\n"
    + "| F | Dm7 | Gm7 | C7 |" * 2
    + ("\nB:\n" + "| Am7 | D7 | Gm7 | C7 |" * 2 + "\nA:\n" + "| F | Dm7 | Gm7 | C7 |" * 2 + "\n")
)


def assigned_form(cast: dict[str, Any], **fields: Any) -> Any:
    revision = factories.make_version(factories.make_tune("Ballroom", key="F major", form="AABA"), AABA)
    return make(cast, kinds=("form",), revision=revision, **fields)


def says(user: Any, made: Any, route: str, kind: str, query: str = "") -> str:
    client, given = Client(), {"one": {"pk": made.revision_id}}.get(kind)
    client.force_login(user)
    headers = {}
    if route.startswith("api:"):
        _, key = make_token(owner=user, name="all", scopes=sorted(SCOPE_IDS), days=1)
        headers = {"Authorization": f"Bearer {key}"}
    where = reverse(route, kwargs=given) if given else address(made, route, kind)
    response = client.get(where + query, headers=headers)
    assert response.status_code == 200, where
    return re.sub(r'<select id="form".*?</select>', "", response.content.decode(), flags=re.S)


@pytest.mark.parametrize(("route", "kind", "query"), NAMES_FORM, ids=str)
def test_the_form_is_named_to_nobody_who_has_still_to_say_it(
    cast: dict[str, Any], route: str, kind: str, query: str
) -> None:
    made = assigned_form(cast, release="by-hand")
    assert "AABA" not in says(cast["player"], made, route, kind, query)
    for person in ("instructor", "stranger"):
        assert "AABA" in says(cast[person], made, route, kind, query)
    factories.make_attempt(made.steps.get(), cast["player"], hand_in=True)
    assert "AABA" not in says(cast["player"], made, route, kind, query)
    release_answers(assignment=made)
    assert "AABA" in says(cast["player"], made, route, kind, query)


def test_the_form_of_the_chart_is_no_fact_of_the_tune_for_who_has_still_to_say_it(cast: dict[str, Any]) -> None:
    made = assigned_form(cast)
    Tune.objects.filter(pk=made.tune_id).update(form="", key="")
    facts = {
        person: says(cast[person], made, "tunes:tune", "tune", "").split('tune-head__facts">')[1].split("</p>")[0]
        for person in ("player", "stranger")
    }
    assert facts["player"] == "<span>F major</span><span>4/4</span>"
    assert facts["stranger"] == "<span>F major</span><span>AABA</span><span>4/4</span>"


@pytest.mark.parametrize("route", ["tunes:index", "api:tunes"])
@pytest.mark.parametrize("query", ["?form=AABA", "?q=aaba"])
def test_nobody_finds_a_tune_by_the_form_they_have_still_to_say(cast: dict[str, Any], route: str, query: str) -> None:
    made = assigned_form(cast)
    assert "Ballroom" not in says(cast["player"], made, route, "", query)
    assert "Ballroom" in says(cast["stranger"], made, route, "", query)


def test_a_form_step_holds_no_analysis_and_a_function_step_names_the_form(cast: dict[str, Any]) -> None:
    made = assigned_form(cast)
    assert held_back(cast["player"], [made.tune_id]) == {}
    assert unnamed_forms(cast["player"], [made.tune_id])
    other = make(cast, kinds=("function",))
    assert unnamed_forms(cast["player"], [other.tune_id]) == {}
    both = make(cast, kinds=("function", "form"), revision=made.revision)
    for read in (held_back, unnamed_forms):
        assert read(cast["player"], [both.tune_id])


@pytest.mark.parametrize("hold", [Hold("a", chords=True), Hold("a"), Hold("a", form="f", analysis=False)])
def test_two_holds_hold_what_either_does(hold: Hold) -> None:
    form = Hold("b", form="b", analysis=False)
    for both in (hold | form, form | hold):
        assert (both.chords, both.analysis, bool(both.form)) == (hold.chords, hold.analysis, True)


PAGES = [
    ("tunes:tune", "tune", ""),
    ("tunes:version", "version", ""),
    ("tunes:version", "version", "?functions=spoken"),
    ("tunes:event", "event", ""),
    ("tunes:area", "event", ""),
    ("tunes:compare", "only-tune", ""),
    ("tunes:jam-card", "only-tune", ""),
    ("tunes:memory-sheet", "only-tune", ""),
    ("tunes:export-musicxml", "revision", "?analysis=yes"),
    ("tunes:export-text", "revision", "?analysis=yes"),
    ("drills:drill", "revision", ""),
    ("drills:drill", "revision", "?functions=on&function=on"),
    ("tunes:idioms", "", ""),
]
KEYS = ("V7/vi", "iiø7/vi", "5 of 6", "2 of 6", "V7/IV", "5 of 4", "bVII7", "♭VII7")


def address(made: Any, route: str, kind: str) -> str:
    given = {
        "tune": {"pk": made.tune_id},
        "version": {"pk": made.tune_id, "version": made.revision.version_id},
        "event": {"revision": made.revision_id, "event": 2},
        "only-tune": {"tune": made.tune_id},
        "revision": {"revision": made.revision_id},
        "": {},
    }[kind]
    return reverse(route, kwargs=given)


@pytest.mark.parametrize(("route", "kind", "query"), PAGES, ids=lambda value: str(value))
def test_no_page_tells_a_player_what_the_quiz_asks(cast: dict[str, Any], route: str, kind: str, query: str) -> None:
    made = make(cast)
    client = Client()
    client.force_login(cast["player"])
    response = client.get(address(made, route, kind) + query)
    body = b"".join(response.streaming_content) if response.streaming else response.content
    text = body.decode()
    assert response.status_code in (200, 403)
    assert [key for key in KEYS if key in text] == []


def test_the_same_pages_tell_an_instructor(cast: dict[str, Any]) -> None:
    """So that the test above can fail: what it looks for stands on these pages once nothing is held back."""
    made = make(cast)
    client = Client()
    client.force_login(cast["instructor"])
    for route, kind, query in PAGES[1:4]:
        text = client.get(address(made, route, kind) + query).content.decode()
        assert any(key in text for key in KEYS), route
