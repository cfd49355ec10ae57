"""The main job over the interface: a chart in, an assignment, answers, marks, a sign-off, the ledger."""

from __future__ import annotations

import csv
import io
import uuid
from typing import Any

import pytest
from django.test import Client

from api.scopes import SCOPE_IDS
from api.tokens import make_token
from tests import factories

pytestmark = pytest.mark.django_db
CHART = "key: F major\n| Gm7 C7 | Fmaj7 | Am7b5 D7 | Gm7 | Bbm7 Eb7 | Fmaj7 |"


class Caller:
    """One person's program."""

    def __init__(self, person: Any) -> None:
        _, key = make_token(owner=person, name="test", scopes=sorted(SCOPE_IDS), days=1)
        self.headers, self.client = {"Authorization": f"Bearer {key}"}, Client()

    def __call__(self, method: str, path: str, body: Any = None, expect: int = 200) -> Any:
        more = {"data": body, "content_type": "application/json"} if body is not None else {}
        answer = getattr(self.client, method)(f"/api/v1/{path}", headers=self.headers, **more)
        assert answer.status_code == expect, answer.content
        return answer.json() if "json" in answer.headers.get("Content-Type", "") and answer.content else answer


def blamed(answer: Any) -> dict[str, str]:
    """Field → why, of a refusal."""
    return {row["field"]: row["detail"] for row in answer["errors"]}


@pytest.fixture
def cast() -> dict[str, Any]:
    ensemble = factories.make_ensemble()
    people = {
        "instructor": factories.make_instructor(ensemble),
        "player": factories.make_player(ensemble, instrument="piano"),
        "other": factories.make_player(ensemble),
    }
    return {"ensemble": ensemble, "people": people} | {name: Caller(person) for name, person in people.items()}


def make_chart(instructor: Caller, text: str = CHART) -> tuple[int, int]:
    tune = instructor("post", "tunes", {"title": "Made over the wire", "key": "F"}, 201)
    version = instructor("post", f"tunes/{tune['id']}/versions", {"name": "by ear", "text": text}, 201)
    return tune["id"], version["id"]


def test_text_in_analysis_out(cast: dict[str, Any]) -> None:
    """ii-V-I and its applied form: diatonic table and dominant table, Pease, Jazz Composition (2003), p. 53."""
    body = cast["instructor"]("post", "analyse", {"text": CHART})
    assert body["problems"] == []
    chords = body["analysis"]["chords"]
    assert [c["chord"] for c in chords] == ["Gm7", "C7", "Fmaj7", "Am7b5", "D7", "Gm7", "Bbm7", "Eb7", "Fmaj7"]
    assert chords[1]["function"]["numeral"] == "V7"
    assert chords[4]["function"]["spoken"] == "5 of 2"
    assert (chords[1]["bar"], chords[1]["beat"], chords[1]["beats"]) == (1, 3, 2)


def test_problems_are_located_and_nothing_is_written(cast: dict[str, Any]) -> None:
    tune = cast["instructor"]("post", "tunes", {"title": "Half read"}, 201)
    answer = cast["instructor"]("post", f"tunes/{tune['id']}/versions", {"name": "x", "text": "| C | Hm7 |"}, 422)
    assert answer["problems"][0]["bar"] == 2
    assert "Bm7" in answer["problems"][0]["suggestion"]
    assert cast["instructor"]("get", f"tunes/{tune['id']}/versions")["count"] == 0


def test_an_older_base_is_a_conflict(cast: dict[str, Any]) -> None:
    _, revision = make_chart(cast["instructor"])
    version = cast["instructor"]("get", f"revisions/{revision}")["version"]
    cast["instructor"]("post", f"versions/{version}/revisions", {"text": "| F |", "based_on": 1}, 201)
    cast["instructor"]("post", f"versions/{version}/revisions", {"text": "| C |", "based_on": 1}, 409)


def test_an_overrule_is_what_the_analysis_says(cast: dict[str, Any]) -> None:
    call = cast["instructor"]
    _, revision = make_chart(call)
    row = call(
        "post", f"revisions/{revision}/overrules", {"event": 6, "key": "F", "answer": "4 minor", "why": "plagal"}, 201
    )
    chord = call("get", f"revisions/{revision}/analysis")["chords"][6]
    assert chord["overruled_by"]
    assert chord["function"]["degree"] == "4"
    call("delete", f"overrules/{row['id']}", expect=204)
    assert call("get", f"revisions/{revision}/analysis")["chords"][6]["overruled_by"] is None
    call("post", f"revisions/{revision}/overrules", {"event": 6, "key": "F", "answer": "2"}, 422)
    call("post", f"revisions/{revision}/overrules", {"event": 99, "key": "F", "answer": "2"}, 422)


def test_written_pitch_for_an_instrument(cast: dict[str, Any]) -> None:
    """Tenor saxophone reads a major ninth above concert: handbook of instruments, common practice."""
    _, revision = make_chart(cast["instructor"])
    body = cast["instructor"]("get", f"revisions/{revision}/analysis?written_for=tenor-sax")
    assert [c["chord"] for c in body["chords"][:3]] == ["Am7", "D7", "Gmaj7"]
    cast["instructor"]("get", f"revisions/{revision}/analysis?written_for=kazoo", expect=422)


def assign(cast: dict[str, Any], kinds: tuple[str, ...] = ("function", "sign-off"), **fields: Any) -> Any:
    _, revision = make_chart(cast["instructor"])
    body = {
        "ensemble": cast["ensemble"].pk,
        "revision": revision,
        "title": "Learn it",
        "release": "by-hand",
        "steps": [{"kind": kind} for kind in kinds],
        **fields,
    }
    return cast["instructor"]("post", "assignments", body, 201)


def test_from_assignment_to_ledger(cast: dict[str, Any]) -> None:
    made = assign(cast)
    player, instructor = cast["player"], cast["instructor"]
    quiz, signing = made["steps"]
    attempt = player("post", f"steps/{quiz['id']}/attempts")
    first = attempt["questions"][0]["id"]
    saves = {"client": str(uuid.uuid4()), "saves": [{"question": first, "text": "ii7", "sequence": 1}]}
    assert player("put", f"attempts/{attempt['id']}/answers", saves)["results"][0]["outcome"] == "saved"
    again = player("put", f"attempts/{attempt['id']}/answers", saves)["results"][0]
    assert again["version"] == 1  # the replay wrote nothing
    handed = player("post", f"attempts/{attempt['id']}/hand-in")
    assert (handed["marks"], handed["percent"]) == ([], None)
    sheet = instructor("get", f"attempts/{attempt['id']}")
    assert next(m for m in sheet["marks"] if m["question"] == first)["points"] == 1
    instructor("put", f"assignments/{made['id']}/release", expect=204)
    assert player("get", f"attempts/{attempt['id']}")["marks"]
    player_id = cast["people"]["player"].pk
    instructor("post", f"steps/{signing['id']}/sign-offs", {"players": [player_id], "evidence": "Played it"}, 201)
    row = next(
        r
        for r in instructor("get", f"ensembles/{cast['ensemble'].pk}/ledger")["results"]
        if r["player"]["id"] == player_id
    )
    assert row["tunes"][0]["signed_by"]
    assert not row["tunes"][0]["learned"]  # the function quiz is far below the pass mark


def test_the_key_never_travels_before_release(cast: dict[str, Any]) -> None:
    made = assign(cast)
    player = cast["player"]
    attempt = player("post", f"steps/{made['steps'][0]['id']}/attempts")
    assert all(set(q) == {"id", "kind", "prompt", "event", "bar", "written_bar"} for q in attempt["questions"])
    refused = player("get", f"revisions/{made['revision']}/analysis", expect=403)
    assert refused["detail"]
    player("post", "analyse", {"text": CHART}, 403)
    cast["other"]("get", f"attempts/{attempt['id']}", expect=404)


def test_two_reviewers_on_one_sheet(cast: dict[str, Any]) -> None:
    made = assign(cast)
    attempt = cast["player"]("post", f"steps/{made['steps'][0]['id']}/attempts")
    cast["player"]("post", f"attempts/{attempt['id']}/hand-in")
    sheet = cast["instructor"]("get", f"attempts/{attempt['id']}")
    change = {"version": sheet["version"], "question": sheet["marks"][0]["question"], "points": 1, "reason": "heard it"}
    cast["instructor"]("post", f"attempts/{attempt['id']}/overrides", change, 201)
    cast["instructor"]("post", f"attempts/{attempt['id']}/overrides", change, 409)


def test_the_same_token_assigns_once(cast: dict[str, Any]) -> None:
    token = str(uuid.uuid4())
    assert assign(cast, token=token)["id"] == assign_again(cast, token)["id"]


def assign_again(cast: dict[str, Any], token: str) -> Any:
    revision = cast["instructor"]("get", "assignments")["results"][0]["revision"]
    body = {
        "ensemble": cast["ensemble"].pk,
        "revision": revision,
        "title": "Learn it",
        "token": token,
        "steps": [{"kind": "form"}],
    }
    return cast["instructor"]("post", "assignments", body, 201)


def test_pages_of_results(cast: dict[str, Any]) -> None:
    for number in range(5):
        factories.make_tune(f"Paged {number}")
    page = cast["player"]("get", "tunes?per_page=2")
    assert (page["count"], len(page["results"])) == (5, 2)
    assert page["next"]
    assert cast["player"]("get", "tunes?per_page=100000&q=Paged")["count"] == 5
    cast["player"]("get", "tunes?page=99", expect=404)
    cast["player"]("get", "tunes?page=99999999999999999999999", expect=404)


def test_ledger_as_csv(cast: dict[str, Any]) -> None:
    assign(cast)
    answer = cast["instructor"]("get", f"ensembles/{cast['ensemble'].pk}/ledger.csv")
    rows = list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode("utf-8-sig"))))
    assert {row["Tune"] for row in rows} == {"Made over the wire"}


def test_school_ids_are_for_directors_and_chairs_are_given_by_them(cast: dict[str, Any]) -> None:
    director, ensemble = Caller(factories.make_director()), cast["ensemble"].pk
    ada = factories.make_user("Ada", email="ada@x.example", school_id="S1")
    factories.make_user("Bo", email="bo@x.example", school_id="S2")
    (found,) = director("get", "people?school_id=S1")["results"]
    assert (found["id"], found["school_id"]) == (ada.pk, "S1")
    assert director("get", "people?school_id=s")["count"] == 0
    assert cast["instructor"]("get", "people?school_id=S1", expect=403)["code"]
    for body, field in (
        ({}, "person"),
        ({"school_id": "S3"}, "school_id"),
        ({"school_id": "S1", "person": "bo@x.example"}, "person"),
        ({"school_id": "S3", "person": "bo@x.example"}, "school_id"),
    ):
        assert set(blamed(director("post", f"ensembles/{ensemble}/chairs", body, 400))) == {field}
    body = {"school_id": "S1", "person": "new@x.example", "instrument": "flute"}
    chair = director("post", f"ensembles/{ensemble}/chairs", body, 201)["person"]
    assert (chair["id"], chair["email"], chair["school_id"]) == (ada.pk, "ada@x.example", "S1")
    sits = {
        row["person"]["id"]: row["person"]
        for row in cast["instructor"]("get", f"ensembles/{ensemble}/chairs")["results"]
    }
    assert (sits[ada.pk]["email"], sits[ada.pk]["school_id"]) == ("ada@x.example", "")
    _, key = make_token(owner=cast["people"]["instructor"], name="work", scopes=["work:read"], days=1)
    seen = Client().get(f"/api/v1/ensembles/{ensemble}/chairs", headers={"Authorization": f"Bearer {key}"}).json()
    assert {row["person"]["email"] for row in seen["results"]} == {""}
