"""What pages do and programs did not: each call does what the page does, over the same services."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests import factories
from tests.api.test_calls import CHART, Caller, assign, blamed, cast, make_chart
from tunes.models import ChartRevision

__all__ = ["cast"]
pytestmark = pytest.mark.django_db


# --- what is next, who is missing, how far everyone is


def test_the_desk_says_what_is_next(cast: dict[str, Any]) -> None:
    soon, later = (timezone.now() + timedelta(days=n) for n in (1, 9))
    made = factories.make_assignment(cast["ensemble"], kinds=("function",), due=later)
    first = factories.make_assignment(cast["ensemble"], kinds=("form",), due=soon).steps.get()
    rows = cast["player"]("get", "desk")["results"]
    assert [row["step"]["id"] for row in rows] == [first.pk, made.steps.get().pk]
    assert (rows[0]["state"], rows[0]["goes_left"], rows[0]["attempt"], rows[0]["best"]) == ("to-do", 2, None, None)
    factories.make_attempt(first, cast["people"]["player"], hand_in=True)
    assert [row["step"]["kind"] for row in cast["player"]("get", "desk")["results"]] == ["function"]
    (state,) = cast["player"]("get", f"assignments/{first.assignment_id}/steps")["results"]
    assert (state["state"], state["best"]) == ("done", 0)
    assert cast["instructor"]("get", "desk")["count"] == 0


def test_missing_late_and_progress(cast: dict[str, Any]) -> None:
    gone = timezone.now() - timedelta(days=1)
    made = factories.make_assignment(cast["ensemble"], by=cast["people"]["instructor"], due=gone)
    step, call = made.steps.get(), cast["instructor"]
    assert {row["player"]["id"] for row in call("get", "review/missing")["results"]} == {
        cast["people"]["player"].pk,
        cast["people"]["other"].pk,
    }
    late = factories.make_attempt(step, cast["people"]["player"], answers={"function:0": "5"}, hand_in=True)
    (row,) = call("get", f"review/missing?assignment={made.pk}")["results"]
    assert (row["player"]["id"], row["name"], row["begun"]) == (
        cast["people"]["other"].pk,
        "Function of every chord",
        False,
    )
    assert [a["id"] for a in call("get", "review?state=late")["results"]] == [late.pk]
    assert call("get", "review?state=reviewed")["count"] == 0
    call("get", "review?state=missing", expect=400)
    (count,) = call("get", f"assignments/{made.pk}/progress")["results"]
    assert (count["players"], count["sent"], count["late"], count["waiting"]) == (2, 1, 1, 1)
    sheet = call("get", f"steps/{step.pk}/ensemble-sheet?order=missed")
    assert (sheet["count"], sheet["results"][0]["missed"], sheet["results"][0]["sheets"]) == (len(step.quiz.ids), 1, 1)
    first = next(q for q in call("get", f"steps/{step.pk}/ensemble-sheet")["results"] if q["question"] == "function:0")
    assert [(a["text"], a["times"]) for a in first["answers"]] == [("5", 1)]
    assert Caller(factories.make_instructor(factories.make_ensemble()))("get", "review/missing")["count"] == 0


def test_marking_table_and_echo(cast: dict[str, Any]) -> None:
    rules = cast["player"]("get", "marking-rules?per_page=100")
    assert rules["count"] == len(rules["results"]) > 50
    assert rules["results"][0]["id"] == "exact"
    assert cast["player"]("get", "echo?q=V7/ii&key=F")["text"] == "V7 of ii in F: D7 → Gm7"
    assert not cast["player"]("get", "echo?q=nothing+at+all")["ok"]
    cast["player"]("get", "echo?kind=listening&q=2", expect=400)
    cast["player"]("get", "echo?key=H", expect=422)


def test_the_page_echoes_only_what_is_asked(client: Client, cast: dict[str, Any]) -> None:
    client.force_login(cast["people"]["player"])
    assert client.get(reverse("work:echo"), {"kind": "listening", "q": "2"}).status_code == 400


# --- the ledger


def test_requirements_are_read_by_all_and_set_by_the_director(cast: dict[str, Any]) -> None:
    director = Caller(factories.make_director())
    body = {"requirements": [{"kind": "function", "pass_mark": 70}, {"kind": "listening", "times": 4}]}
    cast["instructor"]("put", "requirements", body, 403)
    found = {row["kind"]: row for row in director("put", "requirements", body)["requirements"]}
    assert set(found) == {"function", "listening", "sign-off"}
    assert (found["function"]["pass_mark"], found["listening"]["times"]) == (70, 4)
    assert cast["player"]("get", "requirements")["requirements"] == list(found.values())
    director("put", "requirements", {"requirements": [{"kind": "function", "pass_mark": 101}]}, 400)
    assert len(cast["player"]("get", "requirements")["requirements"]) == 3


def test_one_players_standings_with_their_facts(cast: dict[str, Any]) -> None:
    player = cast["people"]["player"]
    step = factories.make_assignment(cast["ensemble"], release="by-hand").steps.get()
    factories.make_attempt(step, player, hand_in=True)
    (seen,) = cast["instructor"]("get", f"players/{player.pk}/ledger")["results"]
    facts = next(s["facts"] for s in seen["steps"] if s["kind"] == "function")
    assert [f["what"] for f in facts] == ["Function of every chord: 0% (attempt 1)"]
    (own,) = cast["player"]("get", "ledger")["results"]  # not released: the player does not see the mark
    assert next(s["facts"] for s in own["steps"] if s["kind"] == "function") == []
    cast["player"]("get", f"players/{player.pk}/ledger", expect=404)


# --- charts


def test_rename_and_agree(cast: dict[str, Any]) -> None:
    call = cast["instructor"]
    tune, _ = make_chart(call)
    second = call("post", f"tunes/{tune}/versions", {"name": "second", "text": CHART}, 201)["version"]
    changed = call("patch", f"versions/{second}", {"name": "as we play it", "is_agreed": True})
    assert (changed["name"], changed["is_agreed"]) == ("as we play it", True)
    assert [v["is_agreed"] for v in call("get", f"tunes/{tune}/versions")["results"]].count(True) == 1
    call("patch", f"versions/{second}", {"name": "BY EAR"}, 400)
    call("patch", f"versions/{second}", {"is_agreed": False}, 400)


def test_an_overrule_is_withdrawn_restored_and_has_the_computed_reading_beside_it(cast: dict[str, Any]) -> None:
    call = cast["instructor"]
    _, revision = make_chart(call)
    before = call("get", f"revisions/{revision}/analysis")["chords"]
    assert {chord["computed"] for chord in before} == {None}
    row = call(
        "post", f"revisions/{revision}/overrules", {"event": 1, "key": "F", "answer": "5 of 1", "why": "so"}, 201
    )
    area = call("post", f"revisions/{revision}/key-areas", {"first": 3, "last": 5, "key": "G minor"}, 201)
    chords = call("get", f"revisions/{revision}/analysis")["chords"]
    assert chords[4]["key"] == "G minor"
    assert chords[4]["computed"] == {name: before[4][name] for name in ("key", "function", "rule", "reason")}
    for kind, made in (("overrules", row), ("key-areas", area)):
        call("delete", f"{kind}/{made['id']}", expect=204)
        assert call("get", f"revisions/{revision}/{kind}")["count"] == 0
        (withdrawn,) = call("get", f"revisions/{revision}/{kind}?withdrawn=yes")["results"]
        assert withdrawn["withdrawn"]
        assert call("post", f"{kind}/{made['id']}/restore")["withdrawn"] is None
        assert call("get", f"revisions/{revision}/{kind}")["count"] == 1


def test_analysis_in_another_key(cast: dict[str, Any]) -> None:
    """Up a minor third from F: every root moves alike (interval arithmetic)."""
    _, revision = make_chart(cast["instructor"])
    body = cast["instructor"]("get", f"revisions/{revision}/analysis?key=Ab")
    assert body["home"] == "Ab major"
    assert [c["chord"] for c in body["chords"][:3]] == ["Bbm7", "Eb7", "Abmaj7"]
    assert [c["function"]["numeral"] for c in body["chords"][:3]] == ["ii7", "V7", "Imaj7"]
    cast["instructor"]("get", f"revisions/{revision}/analysis?key=H", expect=422)
    cast["instructor"]("get", f"revisions/{revision}/analysis?key=Fbb", expect=422)


def test_bars_are_checked_disputed_and_settled(cast: dict[str, Any]) -> None:
    call = cast["instructor"]
    _, revision = make_chart(call)
    word = cast["player"]("post", f"revisions/{revision}/checks", {"bar": 4, "state": "disputed", "heard": "Bbm6"}, 201)
    cast["player"]("post", f"revisions/{revision}/checks", {"bar": 4, "state": "disputed"}, 400)
    cast["player"]("post", f"revisions/{revision}/checks", {"bar": 99, "state": "agreed"}, 422)
    assert call("post", f"revisions/{revision}/checks/rest", {}) == {"agreed": 5, "checked": False}
    assert [row["id"] for row in call("get", "disputes")["results"]] == [word["id"]]
    call("post", f"checks/{word['id']}/settle", {"decision": "change"}, 400)
    made = call("post", f"checks/{word['id']}/settle", {"decision": "change", "chords": "Bbm6"})
    assert "Bbm6" in made["text"]
    assert call("get", f"revisions/{made['id']}")["checked"]
    call("delete", f"checks/{word['id']}", expect=404)  # another person's word


# --- the repertoire


def test_deleting_what_nothing_hangs_on(cast: dict[str, Any]) -> None:
    call = cast["instructor"]
    made = assign(cast)
    call("delete", f"tunes/{made['tune']}", expect=409)
    tune = call("post", "tunes", {"title": "A slip"}, 201)["id"]
    heard = call("post", f"tunes/{tune}/recordings", {"leader": "Nell Harrow"}, 201)["id"]
    assert call("get", f"recordings/{heard}")["leader"] == "Nell Harrow"
    body = {"name": "x", "text": CHART, "source_kind": "by-ear", "source_recording": heard}
    call("post", f"tunes/{tune}/versions", body, 201)
    call("delete", f"recordings/{heard}", expect=409)
    other = call("post", f"tunes/{tune}/recordings", {"leader": "Otis Vane"}, 201)["id"]
    call("delete", f"recordings/{other}", expect=204)
    call("delete", f"tunes/{tune}", expect=204)
    call("get", f"tunes/{tune}", expect=404)


def test_idioms_and_where_they_are(cast: dict[str, Any]) -> None:
    call = cast["instructor"]
    tune, revision = make_chart(call)
    idiom = call("post", "idioms", {"name": "the way home", "pattern": "2min 5dom 1maj"}, 201)
    assert "pattern" in blamed(call("post", "idioms", {"name": "x", "pattern": "2 what"}, 400))
    assert "name" in blamed(call("post", "idioms", {"name": "The way home", "pattern": "2min 5dom"}, 400))
    (row,) = call("get", "idioms")["results"]
    assert (row["places"], row["tunes"]) == (1, 1)
    (place,) = call("get", f"idioms/{idiom['id']}/places")["results"]
    assert (place["tune"], place["first_bar"], place["last_bar"], place["chords"]) == (
        tune,
        1,
        2,
        ["Gm7", "C7", "Fmaj7"],
    )
    assert call("patch", f"idioms/{idiom['id']}", {"notes": "Everywhere"})["notes"] == "Everywhere"
    factories.make_assignment(cast["ensemble"], revision=ChartRevision.objects.get(pk=revision))
    assert cast["player"]("get", f"idioms/{idiom['id']}/places")["count"] == 0  # held back until the quiz is handed in
    assert cast["player"]("get", "idioms")["results"][0]["places"] == 0
    assert call("get", f"idioms/{idiom['id']}/places")["count"] == 1
    call("delete", f"idioms/{idiom['id']}", expect=204)


def test_a_lead_sheet_goes_out_and_comes_back(cast: dict[str, Any]) -> None:
    """The round trip keeps every chord: MusicXML 4.0 `harmony`."""
    call = cast["instructor"]
    tune, revision = make_chart(call)
    content = call("get", f"revisions/{revision}/musicxml").content
    sent = Client().post(
        "/api/v1/lead-sheets", {"file": SimpleUploadedFile("a.musicxml", content)}, headers=call.headers
    )
    assert sent.status_code == 200, sent.content
    body = sent.json()
    back = call("post", f"tunes/{tune}/versions", {"name": "read back", "text": body["text"]}, 201)["id"]
    chords = [[c["chord"] for c in call("get", f"revisions/{r}/analysis")["chords"]] for r in (revision, back)]
    assert chords[0] == chords[1]
    assert b"Gm7" in call("get", f"revisions/{revision}/text").content
    bad = Client().post("/api/v1/lead-sheets", {"file": SimpleUploadedFile("a.xml", b"<html/>")}, headers=call.headers)
    assert (bad.status_code, list(blamed(bad.json()))) == (400, ["file"])


def test_the_form_map_of_a_recording(cast: dict[str, Any]) -> None:
    call = cast["instructor"]
    tune, _ = make_chart(call)
    heard = call("post", f"tunes/{tune}/recordings", {"leader": "Nell Harrow"}, 201)["id"]
    moments = [
        {"chorus": 1, "bar": 1, "seconds": 2.5, "label": "A"},
        {"chorus": 2, "bar": 1, "seconds": 20.0, "label": ""},
    ]
    assert call("put", f"recordings/{heard}/form-map", {"moments": moments})["moments"] == moments
    assert (
        "backwards"
        not in call(
            "put", f"recordings/{heard}/form-map", {"moments": [moments[0] | {"seconds": 30.0}, moments[1]]}, 422
        )["detail"]
    )
    assert call("get", f"recordings/{heard}/form-map")["moments"] == moments
    body = {"heard_on": "2024-05-01T12:00:00Z", "noticed": "Brushes"}
    cast["player"]("post", f"recordings/{heard}/heard", body, 201)
    cast["player"]("post", f"recordings/{heard}/heard", body | {"heard_on": "2999-01-01T12:00:00Z"}, 400)
    assert cast["player"]("get", f"recordings/{heard}/heard")["count"] == 1
    assert call("get", f"recordings/{heard}/heard")["count"] == 0


# --- HEAD is a GET without a body (RFC 9110, section 9.3.2): it needs the same token and scope


@pytest.mark.parametrize("path", ["me", "tunes", "ledger", "desk", "requirements"])
def test_head_needs_what_get_needs(cast: dict[str, Any], path: str) -> None:
    assert Client().head(f"/api/v1/{path}").status_code == 401
    assert Client().head(f"/api/v1/{path}", headers=cast["player"].headers).status_code == 200


# --- the plan of a term


def test_a_plan_is_made_read_and_changed(cast: dict[str, Any]) -> None:
    call, path = cast["instructor"], f"ensembles/{cast['ensemble'].pk}/plan"
    ids = {}
    for title in ("Alder", "Birch", "Cedar"):
        tune = factories.make_version(factories.make_tune(title)).version.tune
        made = call("post", path, {"tune": tune.pk, "known_by": "2031-05-01"}, 201)
        assert (made["tune_title"], made["known_by"], made["overdue"]) == (title, "2031-05-01", False)
        ids[title] = made["id"]
    moved = call("patch", f"planned/{ids['Cedar']}", {"place": 1, "known_by": None})
    assert (moved["place"], moved["known_by"]) == (1, None)
    call("patch", f"planned/{ids['Alder']}", {"place": 900})
    rows = call("get", path)["results"]
    assert [row["tune_title"] for row in rows] == ["Cedar", "Birch", "Alder"]
    assert (rows[0]["known"], rows[0]["players"], rows[0]["counted"]) == (0, 2, cast["ensemble"].pk)
    assert {"kind": "Sign-off in person", "players": 2} in rows[0]["undone"]
    assert rows[0]["progressions"] == []
    call("delete", f"planned/{ids['Birch']}", expect=204)
    assert [row["place"] for row in call("get", path)["results"]] == [1, 2]
    assert "tune" in blamed(call("post", path, {"tune": 10**9}, 400))
    assert "title" in blamed(call("post", path, {"tune": 1, "title": "x"}, 400))
    assert "known_by" in blamed(call("patch", f"planned/{ids['Alder']}", {"known_by": "May"}, 400))


def test_a_plan_says_which_progressions_a_tune_shares(cast: dict[str, Any]) -> None:
    call, path = cast["instructor"], f"ensembles/{cast['ensemble'].pk}/plan"
    idiom = factories.make_idiom("homecoming", "2min 5dom 1maj")
    tune = factories.make_version(
        factories.make_tune("Alder"), "key: F major\n\nA:\n| Gm7 | C7 | Fmaj7 | % |"
    ).version.tune
    call("post", path, {"tune": tune.pk}, 201)
    (row,) = call("get", f"{path}?show=progressions")["results"]
    assert (row["has_chart"], row["undone"]) == (True, [])
    assert row["progressions"] == [{"idiom": idiom.pk, "name": "homecoming", "known_from": []}]


def test_a_plan_has_an_end_for_programs_too(cast: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("assessments.services.plan.MOST", 0)
    answer = cast["instructor"](
        "post", f"ensembles/{cast['ensemble'].pk}/plan", {"tune": factories.make_tune().pk}, 409
    )
    assert "Take one out first" in answer["detail"]
