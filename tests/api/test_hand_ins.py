"""What is handed in travels both ways: sent as a file, judged by its content, read and heard by who may."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tests import factories
from tests.access_rows.recordings import tiny_wav
from tests.api.test_calls import Caller, assign, blamed, cast

__all__ = ["cast"]
pytestmark = pytest.mark.django_db


def upload(caller: Caller, step: int, content: bytes, name: str = "take.wav", **fields: Any) -> Any:
    data = {"token": str(uuid.uuid4()), "file": SimpleUploadedFile(name, content), **fields}
    return Client().post(f"/api/v1/steps/{step}/hand-ins", data, headers=caller.headers)


@pytest.fixture
def step(cast: dict[str, Any]) -> int:
    step: int = assign(cast, ("hand-in", "function"))["steps"][0]["id"]
    return step


def test_a_sound_goes_in_and_comes_out(cast: dict[str, Any], step: int) -> None:
    sent = upload(cast["player"], step, tiny_wav(), note="Second chorus is better")
    assert sent.status_code == 201, sent.content
    (found,) = cast["instructor"]("get", f"attempts/{sent.json()['id']}")["submissions"]
    assert (found["name"], found["media_type"], found["seconds"]) == ("take.wav", "audio/wav", 1.0)
    assert found["note"] == "Second chorus is better"
    path = found["file"].removeprefix("/api/v1/")
    for who, status in (("player", 200), ("instructor", 200), ("other", 404)):
        answer = Client().get(found["file"], headers={**cast[who].headers, "Accept": "audio/wav"})
        assert answer.status_code == status
        if status == 200:
            assert b"".join(answer.streaming_content) == tiny_wav()
    part = Client().get(f"/api/v1/{path}", headers={**cast["player"].headers, "Range": "bytes=0-3"})
    assert (part.status_code, part.content) == (206, b"RIFF")


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("song.mp3", b"<html><script>alert(1)</script>"),
        ("song.wav", b"RIFF\x00\x00\x00\x00AVI LIST"),
        ("empty.wav", b""),
    ],
)
def test_what_is_no_sound_is_refused(cast: dict[str, Any], step: int, name: str, content: bytes) -> None:
    answer = upload(cast["player"], step, content, name)
    assert answer.status_code == 400
    assert list(blamed(answer.json())) == ["file"]
    assert cast["player"]("get", "attempts")["count"] == 0


def test_links_and_notes_as_before(cast: dict[str, Any], step: int) -> None:
    token = str(uuid.uuid4())
    cast["player"]("post", f"steps/{step}/hand-ins", {"token": token}, 400)
    cast["player"]("post", f"steps/{step}/hand-ins", {"token": token, "link": "ftp://example.org/x"}, 400)
    body = {"token": token, "link": "https://example.org/take", "note": "Here", "solo": None}
    sent = cast["player"]("post", f"steps/{step}/hand-ins", body, 201)
    again = cast["player"]("post", f"steps/{step}/hand-ins", body, 201)
    assert (sent["id"], len(again["submissions"])) == (again["id"], 1)
    assert sent["submissions"][0] | {"id": 0, "created": ""} == {
        "id": 0,
        "file": None,
        "name": "",
        "media_type": "",
        "size": 0,
        "seconds": None,
        "created": "",
        "link": "https://example.org/take",
        "note": "Here",
        "solo": None,
    }


def test_an_attempt_says_its_pitch_and_how_it_goes_on(cast: dict[str, Any]) -> None:
    """Tenor saxophone reads a major ninth above concert, a major second by name: common practice."""
    ensemble = cast["ensemble"]
    made = factories.make_assignment(ensemble, attempts_allowed=3, release="last")
    tenor = Caller(factories.make_player(ensemble, instrument="tenor-sax"))
    found = tenor("post", f"steps/{made.steps.get().pk}/attempts")
    assert (found["instrument"], found["written"], found["goes_left"]) == ("tenor-sax", "M2", 2)
    assert found["pitch"] == "Written for tenor saxophone"
    assert found["answers_come"] == "when your last attempt is handed in"


def test_a_hand_in_is_open_while_changes_are_taken_by_ear(cast: dict[str, Any]) -> None:
    """What one sent shows no chord of a chart, so changes by ear that are still to do close nothing there."""
    made = assign(cast, ("hand-in",))
    factories.make_recording(factories.Tune.objects.get(pk=made["tune"]), is_reference=True)
    cast["instructor"](
        "patch", f"assignments/{made['id']}", {"version": made["version"], "steps": [{"kind": "changes"}]}
    )
    sent = upload(cast["player"], made["steps"][0]["id"], tiny_wav())
    assert sent.status_code == 201
    assert cast["player"]("get", f"attempts/{sent.json()['id']}")["submissions"]


def test_an_answer_has_one_kind_whatever_is_accepted(cast: dict[str, Any]) -> None:
    """RFC 9110, section 12.5.1: a server may disregard Accept rather than answer 406."""
    address = f"/api/v1/ensembles/{cast['ensemble'].pk}/ledger.csv"
    answer = Client().get(address, headers={**cast["instructor"].headers, "Accept": "text/csv"})
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "text/csv; charset=utf-8")
