"""What the page refuses the interface refuses too, and says why; nothing sent is silently left out."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.urls import reverse

from assessments.models import SignOff
from assessments.services.sign_off import NotOneself, sign_off, take_back
from tests import factories
from tests.api.test_calls import CHART, Caller, assign, blamed, cast, make_chart
from tunes.models import BarCheck

__all__ = ["cast"]
pytestmark = pytest.mark.django_db


# --- nobody signs themselves off


@pytest.fixture
def two_leaders() -> dict[str, Any]:
    """An instructor who plays in an ensemble that somebody else leads."""
    guest = factories.make_ensemble()
    leader = factories.make_player(guest, user=factories.make_instructor(factories.make_ensemble()))
    return {
        "leader": leader,
        "other": factories.make_instructor(guest),
        "player": factories.make_player(guest),
        "guest": guest,
    }


def test_no_service_signs_its_caller_off(two_leaders: dict[str, Any]) -> None:
    step = factories.make_assignment(two_leaders["guest"], by=two_leaders["other"], kinds=("sign-off",)).steps.get()
    with pytest.raises(NotOneself):
        sign_off(
            step=step, players=[two_leaders["player"], two_leaders["leader"]], by=two_leaders["leader"], evidence="x"
        )
    assert not SignOff.objects.exists()
    (row,) = sign_off(step=step, players=[two_leaders["leader"]], by=two_leaders["other"], evidence="Played it")
    with pytest.raises(NotOneself):
        take_back(sign_off_id=row.pk, by=two_leaders["leader"])
    row.refresh_from_db()
    assert row.taken_back is None
    take_back(sign_off_id=row.pk, by=two_leaders["other"])


def test_no_call_and_no_page_signs_its_caller_off(client: Any) -> None:
    ensemble = factories.make_ensemble()
    director = factories.make_director()
    factories.make_player(ensemble, user=director)
    made = factories.make_assignment(ensemble, kinds=("sign-off",))
    step, call = made.steps.get(), Caller(director)
    answer = call("post", f"steps/{step.pk}/sign-offs", {"players": [director.pk], "evidence": "I heard me"}, 422)
    assert "themselves" in answer["detail"]
    (row,) = sign_off(step=step, players=[director], by=factories.make_instructor(ensemble), evidence="Played it")
    assert "another instructor" in call("delete", f"sign-offs/{row.pk}", expect=409)["detail"]
    client.force_login(director)
    client.post(reverse("work:take-back", args=[row.pk]))
    assert SignOff.objects.get().taken_back is None
    page = client.post(reverse("work:sign-off", args=[step.pk]), {"players": [director.pk], "evidence": "x"})
    assert page.status_code == 422


# --- charts: the editor's rules


def revise(call: Caller, revision: int, text: str, expect: int = 201, **more: Any) -> Any:
    version = call("get", f"revisions/{revision}")["version"]
    return call("post", f"versions/{version}/revisions", {"text": text, **more}, expect)


def test_checked_is_a_word_on_every_bar(cast: dict[str, Any]) -> None:
    call = cast["instructor"]
    _, revision = make_chart(call)
    made = revise(call, revision, CHART.replace("| Fmaj7 |\n", "| F6 |"), checked=True)
    assert made["checked"]
    assert BarCheck.objects.filter(revision=made["id"], state="agreed").count() == 6


def test_words_on_bars_that_stay_come_along(cast: dict[str, Any]) -> None:
    call = cast["instructor"]
    tune = call("post", "tunes", {"title": "Checked bar by bar", "key": "F"}, 201)
    first = call("post", f"tunes/{tune['id']}/versions", {"name": "by ear", "text": CHART, "checked": True}, 201)
    made = revise(call, first["id"], CHART.replace("| Bbm7 Eb7 |", "| Eb7 |"))
    assert not made["checked"]  # one bar is open again
    assert set(BarCheck.objects.filter(revision=made["id"], carried=True).values_list("bar", flat=True)) == {
        0,
        1,
        2,
        3,
        5,
    }


@pytest.mark.parametrize("more", [{}, {"source_recording": None}])
def test_by_ear_names_its_recording(cast: dict[str, Any], more: dict[str, Any]) -> None:
    call = cast["instructor"]
    tune, revision = make_chart(call)
    body = {"name": "second", "text": CHART, "source_kind": "by-ear", **more}
    assert "recording" in blamed(call("post", f"tunes/{tune}/versions", body, 400))["source_recording"]
    assert call("get", f"tunes/{tune}/versions")["count"] == 1
    revise(call, revision, CHART + "\n| F |", 400, source_kind="by-ear", **more)
    heard = call("post", f"tunes/{tune}/recordings", {"leader": "Nell Harrow"}, 201)["id"]
    call("post", f"tunes/{tune}/versions", body | {"source_recording": heard}, 201)
    strange = factories.make_recording(factories.make_tune()).pk
    revise(call, revision, CHART + "\n| F |", 400, source_kind="by-ear", source_recording=strange)


def test_overrules_that_stay_behind_are_told(cast: dict[str, Any]) -> None:
    call = cast["instructor"]
    _, revision = make_chart(call)
    call("post", f"revisions/{revision}/overrules", {"event": 6, "key": "F", "answer": "4 minor", "why": "plagal"}, 201)
    made = revise(call, revision, CHART.replace("Bbm7 Eb7", "Eb7"))
    assert made["left_behind"] == ["bar 5: iv7 in F major (plagal)"]


def test_a_name_taken_is_refused_and_nothing_written(cast: dict[str, Any]) -> None:
    call = cast["instructor"]
    tune, _ = make_chart(call)
    assert blamed(call("post", f"tunes/{tune}/versions", {"name": "By ear", "text": CHART}, 400))["name"]
    assert call("get", f"tunes/{tune}/versions")["count"] == 1


# --- nothing is silently left out


@pytest.mark.parametrize(
    ("method", "path", "body", "field"),
    [
        ("post", "tunes", {"title": "x", "colour": 1}, "colour"),
        ("post", "tunes", {"title": "x", "id": 1}, "id"),
        ("patch", "tunes/{tune}", {"titel": "x"}, "titel"),
        ("post", "tunes/{tune}/recordings", {"leader": "x", "sound": 1}, "sound"),
        ("post", "tunes/{tune}/versions", {"name": "x", "text": "| C |", "agreed": True}, "agreed"),
        ("post", "analyse", {"text": "| C |", "key": "C"}, "key"),
        ("patch", "assignments/{assignment}", {"version": 1, "strictness": "numerals"}, "strictness"),
        ("patch", "assignments/{assignment}", {"version": 1, "steps": [{"kind": "form", "day": 1}]}, "steps.0.day"),
        ("patch", "assignments/{assignment}", {"version": 1, "dues": {"0": None}}, "dues.0"),
    ],
)
def test_a_field_that_no_call_takes_is_named(
    cast: dict[str, Any], method: str, path: str, body: Any, field: str
) -> None:
    made = assign(cast)
    address = path.format(tune=made["tune"], assignment=made["id"])
    assert list(blamed(cast["instructor"](method, address, body, 400))) == [field]


def test_steps_are_added_to_an_assignment(cast: dict[str, Any]) -> None:
    made = assign(cast)
    body = {"version": made["version"], "steps": [{"kind": "form"}, {"kind": "hand-in", "title": "The melody"}]}
    changed = cast["instructor"]("patch", f"assignments/{made['id']}", body)
    assert [s["kind"] for s in changed["steps"]] == ["function", "sign-off", "form", "hand-in"]
    assert [s["id"] for s in changed["steps"]][:2] == [s["id"] for s in made["steps"]]
    cast["player"]("post", f"steps/{changed['steps'][2]['id']}/attempts")
    cast["instructor"]("patch", f"assignments/{made['id']}", body, 409)


def test_a_due_date_that_is_past_is_refused_unless_it_is_meant(cast: dict[str, Any]) -> None:
    revision = factories.make_chart_revision()
    body = {"ensemble": cast["ensemble"].pk, "revision": revision.pk, "title": "Late", "token": str(uuid.uuid4())}
    body["steps"] = [{"kind": "function", "due": "2020-02-03T20:00:00Z"}]
    refused = cast["instructor"]("post", "assignments", body, 422)
    assert "3 February 2020" in refused["detail"]
    assert '"past": true' in refused["detail"]
    made = cast["instructor"]("post", "assignments", body | {"past": True}, 201)
    assert (
        cast["instructor"]("post", "assignments", body, 201)["id"] == made["id"]
    )  # the same call again is the same one
    step, change = made["steps"][0]["id"], f"assignments/{made['id']}"
    moved = {"version": made["version"], "dues": {str(step): "2020-02-04T20:00:00Z"}}
    cast["instructor"]("patch", change, moved, 422)
    cast["instructor"]("patch", change, moved | {"past": True})
