"""Solos and lines by calls: read, said, asked, taken into practice, cut, named, practised, heard."""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from assessments.models import Submission
from assessments.selectors.solos import handed_solo, notes_named
from assessments.services.hand_in import send
from tests import factories
from tests.api.test_calls import Caller
from tests.assessments.test_solo_steps import Class
from tests.drills.test_kept_lines import room  # noqa: F401
from tunes.models import SoloAsk


@pytest.fixture
def callers(room: dict[str, Any]) -> dict[str, Any]:  # noqa: F811
    mate = factories.make_player(room["ensemble"], "Mo", instrument="trumpet")
    people = {"player": room["player"], "teacher": factories.make_instructor(room["ensemble"], "Teodor"), "mate": mate}
    return room | {"people": people} | {name: Caller(person) for name, person in people.items()}


def test_words_stand_beside_what_is_read_and_tell_nothing_of_an_asked_bar(callers: dict[str, Any]) -> None:
    """Over C7 the D flat is its flat nine, from the flat seven to the root (common practice, no source)."""
    path, player, mate, teacher = f"solos/{callers['solo'].pk}", callers["player"], callers["mate"], callers["teacher"]
    read = player("get", f"{path}/reading")["notes"]
    assert [note["degree"] for note in read] == ["3", "5", "b7", "b9", "1", "b7", "3"]
    assert [(read[3][name]) for name in ("bar", "onset", "pitch", "told")] == [2, "11/2", "Db5", True]
    said = {"kind": "role", "first": "11/2", "last": "11/2", "role": "tension", "text": "it leans on the C"}
    word = teacher("post", f"{path}/words", said, 201)
    assert (word["by"], word["role"], word["text"]) == ("Teodor", "tension", "it leans on the C")
    mate("post", f"{path}/words", said, 403)
    player("post", f"{path}/words", {"kind": "name", "first": "4", "last": "13/2", "text": "the climb"}, 201)
    for wrong in ({"first": "beat 2"}, {"role": "tonic"}, {"kind": "joke"}):
        player("post", f"{path}/words", said | wrong, 400)
    assert mate("get", f"{path}/words")["count"] == 2
    assert teacher("put", f"{path}/asks", {"bars": [2]}) == {"bars": [2], "answered": []}
    teacher("put", f"{path}/asks", {"bars": [5]}, 422)
    mate("put", f"{path}/asks", {"bars": []}, 403)
    assert mate("get", f"{path}/words")["results"] == [], "a word on an asked bar would tell"
    closed = mate("get", f"{path}/reading")["notes"]
    assert [note["told"] for note in closed] == [False] * 6 + [True]
    assert {note[name] for note in closed[:6] for name in ("degree", "role", "words", "source")} == {None}
    mate("post", f"{path}/lines", {"first": 0, "last": 6}, 409)
    player("delete", f"solo-words/{word['id']}", expect=404)
    teacher("delete", f"solo-words/{word['id']}", expect=204)
    assert SoloAsk.objects.count() == 1


def test_a_line_from_the_notes_to_the_ledger(callers: dict[str, Any]) -> None:
    player, mate, teacher = callers["player"], callers["mate"], callers["teacher"]
    path = f"solos/{callers['solo'].pk}"
    row = player("post", f"{path}/lines", {"first": 0, "last": 6, "name": "Homeward"}, 201)
    assert (row["name"], row["degrees"][3]) == ("Homeward", "♭9")
    player("post", f"{path}/lines", {"first": 3, "last": 999}, 422)
    line = f"lines/{row['id']}"
    assert teacher("patch", line, {"name": "The turn home"})["name"] == "The turn home"
    mate("patch", line, {"name": "Mine"}, 403)
    went = {"tonic": 5, "tempo": 92, "went": "steady", "token": "6a3f3c39-4f0a-44a5-8a53-5cf2d0a6a1a1"}
    assert {mate("post", f"{line}/keys", went, 201)["times"] for _ in range(2)} == {1}, "sent twice, logged once"
    heard = {"player": callers["people"]["mate"].pk, "tonic": 5, "tempo": 100}
    assert teacher("post", f"{line}/heard", heard, 201)["state"] == "heard"
    player("post", f"{line}/heard", heard, 403)
    teacher("post", f"{line}/heard", heard | {"player": callers["people"]["teacher"].pk}, 422)
    (key,) = mate("get", f"{line}/keys")["results"]
    assert (key["tonic"], key["state"], key["heard_by"], key["heard_tempo"]) == (5, "heard", "Teodor", 100)
    teacher("delete", line, expect=409)
    taken = mate("post", f"{path}/practice", {"first": 2, "last": 4}, 201)
    assert (taken["words"], taken["notes"][0]["degree"]) == ("♭9 in bar 2 of chorus 1", "b9")
    mate("post", f"{path}/practice", {"first": 0, "last": 1}, 422)
    player("delete", f"practice/{taken['id']}", expect=404)
    mate("delete", f"practice/{taken['id']}", expect=204)
    assert mate("get", f"{path}/practice")["count"] == 0


def test_the_head_of_a_solo_is_changed_and_nothing_of_it_is_lost(callers: dict[str, Any]) -> None:
    player, path = callers["player"], f"solos/{callers['solo'].pk}"
    before = player("get", path)
    changed = player("patch", path, {"player": "Odile Marchetti", "instrument": "flugelhorn"})
    stays = {"shared_with", "last_bar", "first_bar", "recording", "rights", "revision"}
    assert (changed["player"], changed["instrument"]) == ("Odile Marchetti", "flugelhorn")
    assert {name: changed[name] for name in stays} == {name: before[name] for name in stays}
    assert player("patch", path, {"shared_with": None, "rights": "ours"})["shared_with"] is None
    assert player("patch", path, {"shared_with": callers["ensemble"].pk})["rights"] == "ours"
    cases: list[tuple[dict[str, Any], int]] = [
        ({"last_bar": 1}, 409),
        ({"first_bar": 2}, 409),
        ({"last_bar": 999}, 400),
        ({"instrument": "kazoo"}, 400),
        ({"player": ""}, 400),
        ({"recording": 10**9}, 400),
        ({"title": "x"}, 400),
    ]
    for body, status in cases:
        player("patch", path, body, status)
    now = player("get", path)
    assert (now["last_bar"], now["player"]) == (before["last_bar"], "Odile Marchetti")
    callers["mate"]("patch", path, {"player": "Mine"}, 404)


@pytest.mark.django_db
def test_a_comment_stands_at_a_note_of_a_solo_handed_in() -> None:
    band = Class()
    step = band.assign("write-out", solo=band.key.solo_id, first=1, last=4)
    player, teacher = Caller(band.player), Caller(band.instructor)
    path = f"attempts/{send(step=step, player=band.player, token=uuid.uuid4(), solo=band.own).pk}"
    (row,) = teacher("get", path)["submissions"]
    assert row["solo"] == band.own.pk
    said = {"token": str(uuid.uuid4()), "text": "Hear it again", "submission": row["id"], "note": 4}
    found = teacher("post", f"{path}/comments", said, 201)
    handed = handed_solo(Submission.objects.get(pk=row["id"]), step)
    assert handed
    assert found["note"] == [words for _, rows in notes_named(handed) for _, words in rows][4]
    assert [one["note"] for one in player("get", path)["comments"]] == [found["note"]]
    fresh = {"token": str(uuid.uuid4()), "text": "x"}
    for wrong, status in (
        ({"note": 999, "submission": row["id"]}, 422),
        ({"note": 1, "submission": row["id"] + 1}, 422),
        ({"note": 1}, 400),
        ({"submission": row["id"]}, 400),
    ):
        teacher("post", f"{path}/comments", fresh | wrong, status)
    player("post", f"{path}/comments", said, 404)
