"""What every call promises alike: refusals (RFC 9457), filters, entity tags (RFC 9110), repeats and limits (IETF drafts)."""

from __future__ import annotations

import datetime as dt
import json
import re
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from drf_spectacular.generators import SchemaGenerator

from api.changes import look
from api.models import Change, ChangeState, Repeat
from assessments.models import Step
from studio.models import Membership, Term
from tests import factories
from tests.api.test_calls import Caller, assign, blamed, cast  # noqa: F401

pytestmark = pytest.mark.django_db


def raw(caller: Caller, method: str, path: str, body: Any = None, **headers: str) -> Any:
    more = {"data": body, "content_type": "application/json"} if body is not None else {}
    return getattr(caller.client, method)(f"/api/v1/{path}", headers=caller.headers | headers, **more)


@pytest.mark.parametrize(
    ("method", "path", "body", "status", "code"),
    [
        ("get", "nothing-here", None, 404, "not-found"),
        ("post", "tunes/none/such/", {}, 404, "not-found"),
        ("get", "tunes/99999999", None, 404, "not-found"),
        ("get", f"tunes/{10**30}", None, 404, "not-found"),
        ("get", "tunes?colour=red", None, 400, "invalid"),
        ("get", "review?kind=dance", None, 400, "invalid"),
        ("get", "tunes?page=1&page=2", None, 400, "invalid"),
        ("get", "tunes?page=999", None, 404, "not-found"),
        ("delete", "me", None, 405, "wrong-method"),
        ("post", "tunes", {"title": ""}, 400, "invalid"),
        ("post", "analyse", {"text": "| C |", "key": 1}, 400, "invalid"),
    ],
)
def test_every_refusal_has_one_shape(
    cast: dict[str, Any],  # noqa: F811
    method: str,
    path: str,
    body: Any,
    status: int,
    code: str,
) -> None:
    answer = raw(cast["instructor"], method, path, body)
    assert (answer.status_code, answer.headers["Content-Type"]) == (status, "application/problem+json")
    found = answer.json()
    assert (found["status"], found["code"], found["type"]) == (status, code, f"urn:topform:problem:{code}")
    assert found["title"]
    assert found["detail"]


def test_a_stranger_is_told_in_the_same_shape() -> None:
    answer = Client().get("/api/v1/tunes")
    assert (answer.status_code, answer.json()["code"]) == (401, "no-token")
    assert "WWW-Authenticate" in answer.headers


def test_a_filter_is_named_with_those_there_are(cast: dict[str, Any]) -> None:  # noqa: F811
    why = blamed(cast["instructor"]("get", "assignments?ensembel=1", expect=400))
    assert "ensemble" in why["ensembel"]


def test_what_has_not_changed_is_not_sent_again(cast: dict[str, Any]) -> None:  # noqa: F811
    call = cast["instructor"]
    tune = call("post", "tunes", {"title": "Twice read"}, 201)["id"]
    first = raw(call, "get", f"tunes/{tune}")
    again = raw(call, "get", f"tunes/{tune}", **{"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    call("patch", f"tunes/{tune}", {"title": "Changed"})
    third = raw(call, "get", f"tunes/{tune}", **{"If-None-Match": first["ETag"]})
    assert (third.status_code, third.json()["title"]) == (200, "Changed")


def test_a_change_of_what_was_changed_since_is_refused(cast: dict[str, Any]) -> None:  # noqa: F811
    call = cast["instructor"]
    tune = call("post", "tunes", {"title": "Two hands"}, 201)["id"]
    seen = raw(call, "get", f"tunes/{tune}")["ETag"]
    call("patch", f"tunes/{tune}", {"title": "First hand"})
    late = raw(call, "patch", f"tunes/{tune}", {"title": "Second hand"}, **{"If-Match": seen})
    assert (late.status_code, late.json()["code"]) == (412, "changed")
    now = raw(call, "get", f"tunes/{tune}")["ETag"]
    assert raw(call, "patch", f"tunes/{tune}", {"title": "Second hand"}, **{"If-Match": now}).status_code == 200


def test_a_call_repeated_with_its_key_is_done_once(cast: dict[str, Any]) -> None:  # noqa: F811
    call, key = cast["instructor"], {"Idempotency-Key": "autumn-1"}
    made = [raw(call, "post", "tunes", {"title": "Only once"}, **key) for _ in range(3)]
    assert [one.status_code for one in made] == [201] * 3
    assert len({one.json()["id"] for one in made}) == 1
    assert ["Idempotency-Replayed" in one.headers for one in made] == [False, True, True]
    assert call("get", "tunes?q=Only once")["count"] == 1
    other = raw(call, "post", "tunes", {"title": "Another"}, **key)
    assert (other.status_code, other.json()["code"]) == (422, "unreadable")
    second = Caller(cast["people"]["instructor"])
    assert raw(second, "post", "tunes", {"title": "Another"}, **key).status_code == 201, "a key is its token's own"


def test_a_refusal_keeps_no_key(cast: dict[str, Any]) -> None:  # noqa: F811
    call, key = cast["instructor"], {"Idempotency-Key": "again"}
    assert raw(call, "post", "tunes", {"title": ""}, **key).status_code == 400
    assert Repeat.objects.count() == 0
    assert raw(call, "post", "tunes", {"title": "Said right"}, **key).status_code == 201


def test_what_remains_is_said(cast: dict[str, Any]) -> None:  # noqa: F811
    left = [raw(cast["player"], "get", "me").headers["RateLimit"] for _ in range(2)]
    numbers = [int(one.split("r=")[1].split(";")[0]) for one in left]
    assert numbers[1] == numbers[0] - 1
    assert raw(cast["player"], "get", "me").headers["RateLimit-Policy"].startswith('"token";q=')


def test_a_programme_is_read_in_lines(cast: dict[str, Any]) -> None:  # noqa: F811
    """Bulk reads: one JSON text a line (NDJSON), nothing of an ensemble that is not led."""
    made = assign(cast)
    step = made["steps"][0]["id"]
    player = cast["people"]["player"]
    factories.make_attempt(Step.objects.get(pk=step), player, answers={"function:0": "1"}, hand_in=True)
    foreign = factories.make_ensemble()
    other = factories.make_assignment(foreign, by=factories.make_instructor(foreign))
    factories.make_attempt(other.steps.get(), factories.make_player(foreign), hand_in=True)
    for name in ("attempts", "evidence", "ledger"):
        answer = raw(cast["instructor"], "get", f"bulk/{name}")
        assert answer.headers["Content-Type"] == "application/x-ndjson"
        rows = [json.loads(line) for line in b"".join(answer.streaming_content).splitlines()]
        assert rows, name
        assert {row["player"]["id"] for row in rows} - {cast["people"]["other"].pk} == {player.pk}, name
        assert b"".join(raw(cast["instructor"], "get", f"bulk/{name}?running=yes").streaming_content).splitlines(), name
        assert raw(cast["instructor"], "get", f"bulk/{name}?running=no").status_code == 400
        assert raw(cast["player"], "get", f"bulk/{name}").status_code == 200
        assert list(raw(cast["player"], "get", f"bulk/{name}").streaming_content) == []
    Term.objects.update(ends=timezone.localdate() - dt.timedelta(days=1))
    for name in ("attempts", "evidence", "ledger"):
        assert list(raw(cast["instructor"], "get", f"bulk/{name}?running=yes").streaming_content) == [], name


def test_a_filter_that_no_call_takes_is_refused_by_every_call(cast: dict[str, Any]) -> None:  # noqa: F811
    """Every method of every call in the schema: refused in words before anything is looked up or written."""
    call, wrong = Caller(factories.make_director()), []
    paths = SchemaGenerator().get_schema(request=None, public=True)["paths"]
    for path, methods in paths.items():
        address = re.sub(r"\{\w+\}", "1", path).removeprefix("/api/v1/")
        for method in methods:
            answer = raw(call, method, f"{address}?colour=red", None if method in ("get", "delete") else {})
            named = [row["field"] for row in answer.json().get("errors", [])] if answer.status_code == 400 else []
            if named != ["colour"]:
                wrong.append((method, path, answer.status_code))
    assert wrong == []
    assert sum(map(len, paths.values())) > 150


def test_rows_of_lists_say_when_they_changed_and_are_given_since_then(cast: dict[str, Any]) -> None:  # noqa: F811
    """What a list gives since a time is held against the rows that were really touched after it."""
    paths = SchemaGenerator().get_schema(request=None, public=True)
    shapes, without = paths["components"]["schemas"], set()
    for name, shape in shapes.items():
        if name.startswith("Paginated"):
            row = shape["properties"]["results"]["items"]["$ref"].rpartition("/")[2]
            if "changed" not in shapes[row]["properties"]:
                without.add(row)
            elif row.startswith("Listed"):
                assert "id" in shapes[row]["properties"], f"{row}: what changed is known by its id"
    assert without == WORKED_OUT
    call, ensemble = cast["instructor"], cast["ensemble"].pk
    made = [call("post", "tunes", {"title": f"Since {n}"}, 201)["id"] for n in range(3)]
    chairs = call("get", f"ensembles/{ensemble}/chairs")["results"]
    assert all(row["changed"] for row in chairs), "the first list begins the feed"
    look(pause=dt.timedelta(0))
    Change.objects.update(at=timezone.now() - dt.timedelta(hours=2))
    since = (timezone.now() - dt.timedelta(hours=1)).isoformat().replace("+00:00", "Z")
    ChangeState.objects.update(looked=None)
    assert call("get", f"tunes?since={since}")["count"] == 0
    call("patch", f"tunes/{made[1]}", {"title": "Touched"})
    Membership.objects.filter(pk=chairs[0]["id"]).update(instrument="flute")
    ChangeState.objects.update(looked=None)
    assert [row["id"] for row in call("get", f"tunes?since={since}")["results"]] == [made[1]]
    seen = call("get", f"ensembles/{ensemble}/chairs?since={since}")["results"]
    assert [row["id"] for row in seen] == [chairs[0]["id"]]
    assert seen[0]["changed"] >= since
    for wrong in (
        "yesterday",
        "0001-01-01T00:00:00%2B14:00",
        "9999-12-31T23:59:59-14:00",
        "2026-13-01",
        "%00",
        "9" * 400,
    ):
        assert call("get", f"tunes?since={wrong}", expect=400)["code"] == "invalid", wrong
    assert call("get", "tunes?since=0001-01-01T00:00:00Z")["count"] == len(made)


# Rows that are worked out afresh for each call, and the table of marking rules, which is part of the program.
WORKED_OUT = {
    "EnsembleQuestion", "Hearing", "KnownTune", "LedgerRow", "LinePlace", "MarkingRule", "Missing", "OwnCell", "Place", "Progress",
    "StepState",
}  # fmt: skip
