"""What people do with the pages, and what bad input gets: a clear line, nothing lost, never a 500."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
import uuid
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from assessments.demo import tone
from assessments.models import (
    Assignment,
    Attempt,
    Comment,
    Evidence,
    Listening,
    MarkOverride,
    SignOff,
    Submission,
)
from assessments.selectors.ledger import safe_cell
from studio.models import Notice, Term
from tests import factories
from tests.sounds import encoded
from tunes.models import Recording
from tunes.recordings import ranges

pytestmark = pytest.mark.django_db


class Cast:
    """An ensemble with a leader and two players, each with a client."""

    def __init__(self) -> None:
        self.ensemble = factories.make_ensemble(term=factories.make_term(ends=dt.date(2031, 1, 31)))
        self.leader = factories.make_instructor(self.ensemble, "Leo Leader")
        self.player = factories.make_player(self.ensemble, "Pia Player")
        self.other = factories.make_player(self.ensemble, "Ola Other")
        self.lead, self.play = Client(), Client()
        self.lead.force_login(self.leader)
        self.play.force_login(self.player)

    def assigned(self, *kinds: str, **fields: Any) -> Any:
        made = factories.make_assignment(self.ensemble, by=self.leader, kinds=kinds, **fields)
        return {step.kind: step for step in made.steps.all()}


@pytest.fixture
def cast() -> Cast:
    return Cast()


def assign_data(cast: Cast, chart: Any, **more: Any) -> dict[str, Any]:
    return {
        "tune": chart.version.tune_id,
        "ensemble": cast.ensemble.pk,
        "revision": chart.pk,
        "title": "A tune",
        "strictness": "quality",
        "alternatives": "part",
        "attempts_allowed": 2,
        "release": "hand-in",
        "pitch_in": "written",
        "token": str(uuid.uuid4()),
        "all_due": "2030-05-31",
        "step-function-on": "on",
        "step-listening-on": "on",
        "step-listening-times": 3,
        "step-listening-due": "2030-05-20",
    } | more


def test_assigning_issues_the_quiz_and_tells_every_player(cast: Cast) -> None:
    data = assign_data(cast, factories.make_chart_revision())
    assert cast.lead.post(reverse("work:assign"), data).status_code == 302
    made = Assignment.objects.get()
    steps = {s.kind: s for s in made.steps.all()}
    assert set(steps) == {"function", "listening"}
    assert steps["listening"].times == 3
    assert [timezone.localtime(steps[k].due).date().isoformat() for k in ("function", "listening")] == [
        "2030-05-31",
        "2030-05-20",
    ]
    assert len(steps["function"].quiz.questions) == len(steps["function"].quiz.ids)
    assert set(Notice.objects.filter(kind="assigned").values_list("user", flat=True)) == {cast.player.pk, cast.other.pk}
    assert {n.text.split(":")[0] for n in Notice.objects.filter(kind="assigned")} == {
        f"Assigned to {cast.ensemble.name}"
    }
    assert cast.lead.post(reverse("work:assign"), data).status_code == 302  # the double click
    assert Assignment.objects.count() == 1


def test_a_date_that_is_past_is_asked_about_and_nothing_typed_is_lost(cast: Cast) -> None:
    chart = factories.make_chart_revision()
    data = assign_data(cast, chart, **{"step-listening-due": "2020-02-03", "instructions": "Sing it first"})
    asked = cast.lead.post(reverse("work:assign"), data)
    assert asked.status_code == 422
    page = asked.content.decode()
    assert "Listening 3 February 2020" in page
    assert "31 May 2030" not in page.split('role="alert"')[1].split("</div>")[0]
    assert "Sing it first" in page
    assert not Assignment.objects.exists()
    after = assign_data(cast, chart, all_due="2031-02-01")
    page = cast.lead.post(reverse("work:assign"), after).content.decode()
    assert "Due after the last day of the term, 31 January 2031: Function" in page
    assert cast.lead.post(reverse("work:assign"), data | {"past": "yes"}).status_code == 302
    made = Assignment.objects.get()
    steps = {step.kind: step for step in made.steps.all()}
    edit = {"title": "New", "attempts_allowed": 2, "release": "last", "version": made.version, "all_due": ""}
    edit |= {f"due-{step.pk}": timezone.localdate(step.due).isoformat() for step in steps.values()}
    moved = cast.lead.post(reverse("work:edit", args=[made.pk]), edit | {f"due-{steps['function'].pk}": "2020-02-04"})
    assert moved.status_code == 422
    assert "4 February 2020" in moved.content.decode()
    assert "3 February 2020" not in moved.content.decode()  # it stands already
    assert cast.lead.post(reverse("work:edit", args=[made.pk]), edit).status_code == 302


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"step-function-on": "", "step-listening-on": ""}, "Tick at least one step"),
        ({"title": ""}, "required"),
        ({"attempts_allowed": 0}, "Write 1 or more"),
        ({"all_due": "31.5.30"}, "year-month-day"),
        ({"ensemble": 999_999}, "not in the list"),
        ({"revision": "x"}, "not in the list"),
        ({"token": "no"}, "out of date"),
        ({"step-listening-times": 99}, "Write 50 or less"),
    ],
)
def test_a_wrong_assignment_says_what_and_keeps_the_words(cast: Cast, change: dict[str, Any], says: str) -> None:
    data = assign_data(cast, factories.make_chart_revision(), instructions="Sing it first", **change)
    response = cast.lead.post(reverse("work:assign"), data)
    assert response.status_code == 422
    assert "Sing it first" in response.content.decode()
    assert says in response.content.decode()
    assert not Assignment.objects.exists()


def test_editing_notices_that_somebody_else_was_first(cast: Cast) -> None:
    step = cast.assigned("function")["function"]
    address = reverse("work:edit", args=[step.assignment_id])
    data = {
        "title": "First",
        "instructions": "",
        "attempts_allowed": 3,
        "release": "due",
        "version": 1,
        f"due-{step.pk}": "2030-06-01",
        "step-form-on": "on",
    }
    assert cast.lead.post(address, data).status_code == 302
    made = Assignment.objects.get()
    assert (made.title, made.attempts_allowed, made.version) == ("First", 3, 2)
    assert [s.kind for s in made.steps.all()] == ["function", "form"]
    late = cast.lead.post(address, data | {"title": "Second"})
    assert late.status_code == 422
    assert "Someone else changed" in late.content.decode()
    assert 'value="Second"' in late.content.decode()
    assert Assignment.objects.get().title == "First"


def test_a_page_without_scripts_saves_and_hands_in(cast: Cast) -> None:
    step = cast.assigned("function")["function"]
    cast.play.post(reverse("work:start", args=[step.pk]))
    attempt = Attempt.objects.get()
    page = cast.play.get(reverse("work:attempt", args=[attempt.pk])).content.decode()
    assert 'name="q-function:0"' in page
    response = cast.play.post(reverse("work:hand-in", args=[attempt.pk]), {"plain": "1", "q-function:0": "Imaj7"})
    assert response.status_code == 302
    attempt.refresh_from_db()
    assert (attempt.status, attempt.points) == ("handed-in", 1.0)
    assert "Imaj7" in cast.play.get(response.url).content.decode()


SAVES: list[tuple[Any, str]] = [
    ("", "Send client"),
    ("[]", "Send client"),
    ("{}", "Send client"),
    ('{"client": 5, "saves": []}', "Send client"),
    ({"client": "x", "saves": []}, "badly formed"),
    ({"client": str(uuid.UUID(int=1)), "saves": []}, "between 1 and"),
    ({"client": str(uuid.UUID(int=1)), "saves": [{"q": 1, "text": "", "seq": 1}]}, "text"),
    ({"client": str(uuid.UUID(int=1)), "saves": [{"q": "a", "text": "b", "seq": -1}]}, "counts"),
    ({"client": str(uuid.UUID(int=1)), "saves": [{"q": "a", "text": "b", "seq": 2**40}]}, "counts"),
    ({"client": str(uuid.UUID(int=1)), "saves": [{"q": "a", "text": "b", "seq": True}]}, "counts"),
    ({"client": str(uuid.UUID(int=1)), "saves": [{"q": "a", "text": "b", "seq": 1}] * 2}, "of its own"),
    (
        {"client": str(uuid.UUID(int=1)), "saves": [{"q": "a", "text": "b", "seq": n} for n in range(401)]},
        "between 1 and",
    ),
    (b"\xff\xfe", "Send client"),
]


@pytest.mark.parametrize(("body", "says"), SAVES)
def test_a_save_that_makes_no_sense_is_refused_with_a_reason(cast: Cast, body: Any, says: str) -> None:
    attempt = factories.make_attempt(cast.assigned("function")["function"], cast.player)
    raw = json.dumps(body) if isinstance(body, dict) else body
    response = cast.play.generic("POST", reverse("work:save", args=[attempt.pk]), raw, "application/json")
    assert response.status_code == 400
    assert says in response.json()["problem"]


def test_zero_bytes_and_half_characters_are_taken_out_not_refused(cast: Cast) -> None:
    attempt = factories.make_attempt(cast.assigned("function")["function"], cast.player)
    raw = f'{{"client": "{uuid.uuid4()}", "saves": [{{"q": "function:0", "text": "5\\u0000 of\\ud800 2", "seq": 1}}]}}'
    response = cast.play.generic("POST", reverse("work:save", args=[attempt.pk]), raw, "application/json")
    assert response.json()["results"][0]["text"] == "5 of? 2"


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=9),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["client", "saves", "q", "text", "seq", "base"]), inner, max_size=4)
    ),
    max_leaves=9,
)


@given(JSON)
def test_whatever_is_sent_to_save_is_answered_below_500(body: Any) -> None:
    cast = Cast()
    attempt = factories.make_attempt(cast.assigned("function")["function"], cast.player)
    response = cast.play.post(reverse("work:save", args=[attempt.pk]), json.dumps(body), "application/json")
    assert response.status_code in (200, 400)
    Attempt.objects.all().delete()


@given(st.text(max_size=60), st.text(max_size=12), st.sampled_from(["P1", "M6", "x", "-m3", ""]))
def test_whatever_is_typed_is_echoed(text: str, named: str, written: str) -> None:
    client = Client()
    client.force_login(factories.make_user())
    text, named = text.replace("\x00", ""), named.replace("\x00", "")  # refused for every address by the middleware
    for kind in ("function", "form", "key-areas"):
        response = client.get(
            reverse("work:echo"), {"kind": kind, "q": text, "home": "F major", "named": named, "written": written}
        )
        assert response.status_code == 200
        assert set(response.json()) == {"text", "ok"}


def test_the_echo_reads_the_key_in_the_pitch_of_the_player(cast: Cast) -> None:
    """An alto saxophone reads D for concert F (a major sixth up, MusicXML transpose -5/-9): V7 of ii is B7 → Em7."""
    said = cast.play.get(
        reverse("work:echo"), {"kind": "function", "q": "V7/ii", "home": "F major", "written": "M6"}
    ).json()
    assert said["text"] == "V7 of ii in D: B7 → Em7"
    named = cast.play.get(
        reverse("work:echo"), {"kind": "function", "q": "2", "home": "F major", "written": "M6", "named": "Bb"}
    )
    assert "in B♭" in named.json()["text"]


def send(cast: Cast, step: Any, **data: Any) -> Any:
    return cast.play.post(reverse("work:step", args=[step.pk]), {"token": str(uuid.uuid4())} | data)


HOSTILE = [
    ("song.mp3", b"<html><script>alert(1)</script>"),
    ("song.wav", b"RIFF\x00\x00\x00\x00AVI LIST"),
    ("a.svg", b"<svg onload=alert(1)>"),
    ("a.mp3", b""),
    ("a.ogg", b"Og"),
    ("a.mp3", b"\xff\xff\xff\xff" * 8),
    ("a.pdf", b"%PDF-1.7 ID3"),
    ("a.zip", b"PK\x03\x04" * 9),
    ("a.exe", b"MZ" + b"\x00" * 64),
    ("a.m4a", b"\x00\x00\x00\x18ftypavif"),
    ("a.webm", b"\x1aE\xdf\xa3 matroska other"),
    ("../../etc/passwd.mp3", b"root:x:0:0"),
    ("a\x00.mp3", b"text"),
    ("a.flac", b"fLa"),
    ("a.html", b"GIF89a<script>"),
    ("x" * 300 + ".mp3", b"nothing"),
    ("a.aif", b"FORM\x00\x00\x00\x008SVX"),
    ("a.js", b"alert(1)"),
    ("a.mid", b"MThd\x00\x00\x00\x06"),
    ("a.wav", tone(440, 1.0)[:44]),
    ("a.mp3", b"ID3\x04" + b"\x00" * 60),
    ("a.ogg", b"OggS" + b"\x00" * 60),
    ("a.webm", b"\x1aE\xdf\xa3\x01B\x82\x84webm" + b"\x00" * 60),
    ("a.m4a", b"\x00\x00\x00\x1cftypM4A " + b"\x00" * 60),
    ("a.xml", b"<?xml version='1.0'?><!DOCTYPE a [<!ENTITY b SYSTEM 'file:///etc/passwd'>]>"),
]


@pytest.mark.parametrize(("name", "content"), HOSTILE, ids=[str(n) for n in range(len(HOSTILE))])
def test_what_is_no_sound_is_refused(cast: Cast, name: str, content: bytes) -> None:
    step = cast.assigned("hand-in")["hand-in"]
    response = send(cast, step, file=SimpleUploadedFile(name, content, "audio/mpeg"), note="My words")
    assert response.status_code == 422
    assert "My words" in response.content.decode()
    assert not Submission.objects.exists()


SOUNDS = [
    ("wav", "pcm_s16le", 44100, "audio/wav"),
    ("mp3", "libmp3lame", 44100, "audio/mpeg"),
    ("ogg", "libopus", 48000, "audio/ogg"),
    ("flac", "flac", 44100, "audio/flac"),
    ("ipod", "aac", 44100, "audio/mp4"),
    ("webm", "libopus", 48000, "audio/webm"),
    ("adts", "aac", 44100, "audio/aac"),
]


@pytest.mark.parametrize(("container", "codec", "rate", "media_type"), SOUNDS, ids=[row[0] for row in SOUNDS])
def test_a_sound_is_known_by_its_content(cast: Cast, container: str, codec: str, rate: int, media_type: str) -> None:
    content = encoded(container, codec, rate, seconds=1)
    step = cast.assigned("hand-in")["hand-in"]
    assert send(cast, step, file=SimpleUploadedFile("../x <b>.exe", content, "text/html")).status_code == 302
    sent = Submission.objects.get()
    assert sent.media_type == media_type
    assert sent.file.name.startswith("submissions/")
    assert ".." not in sent.file.name
    response = cast.lead.get(reverse("work:file", args=[sent.pk]))
    assert response.headers["Content-Type"] == media_type
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert b"".join(response.streaming_content) == content


RANGES = [
    ("bytes=0-3", 206, slice(0, 4)),
    ("bytes=10-", 206, slice(10, None)),
    ("bytes=-5", 206, slice(-5, None)),
    ("bytes=0-999999", 206, slice(0, None)),
    ("bytes=5-2", 200, slice(0, None)),
    ("bytes=999999-", 416, None),
    ("bytes=-0", 416, None),
    ("bytes=a-b", 200, slice(0, None)),
    ("bytes=-", 200, slice(0, None)),
    ("items=0-3", 200, slice(0, None)),
    ("bytes=0-1,4-5", 200, slice(0, None)),
]


@pytest.mark.parametrize(("asked", "status", "part"), RANGES, ids=[r[0] for r in RANGES])
def test_a_recording_can_be_wound(cast: Cast, asked: str, status: int, part: slice | None) -> None:
    """Range requests, RFC 9110 section 14: several ranges may be answered with the whole."""
    content = tone(440, 1.0)
    send(cast, cast.assigned("hand-in")["hand-in"], file=SimpleUploadedFile("a.wav", content, "audio/wav"))
    response = cast.play.get(reverse("work:file", args=[Submission.objects.get().pk]), headers={"Range": asked})
    assert response.status_code == status
    if part is not None:
        assert body(response) == content[part]
    if status == 416:
        assert response.headers["Content-Range"] == f"bytes */{len(content)}"


def body(response: HttpResponse) -> bytes:
    return b"".join(response.streaming_content) if response.streaming else response.content


def test_a_part_is_bounded_however_much_is_asked_for(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """RFC 9110, section 15.3.7: less than was asked; the next request goes on where it ended."""
    monkeypatch.setattr(ranges, "MOST", 100)
    content = tone(440, 1.0)
    send(cast, cast.assigned("hand-in")["hand-in"], file=SimpleUploadedFile("a.wav", content, "audio/wav"))
    address = reverse("work:file", args=[Submission.objects.get().pk])
    for first in (0, 100):
        response = cast.play.get(address, headers={"Range": f"bytes={first}-"})
        assert response.status_code == 206
        assert response.headers["Content-Range"] == f"bytes {first}-{first + 99}/{len(content)}"
        assert body(response) == content[first : first + 100]


def test_a_double_click_hands_in_and_logs_once(cast: Cast) -> None:
    steps = cast.assigned("hand-in", "listening")
    token = str(uuid.uuid4())
    for _ in range(2):
        assert send(cast, steps["hand-in"], note="Here", token=token).status_code == 302
        assert send(cast, steps["listening"], heard="The quartet", on="2020-01-01", token=token).status_code == 302
    assert (
        Submission.objects.count()
        == Listening.objects.count()
        == Evidence.objects.filter(kind="listening").count()
        == 1
    )


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"on": "2020-01-01"}, "say which one you heard"),
        ({"heard": "It", "on": "2999-01-01"}, "has not come yet"),
        ({"heard": "It", "on": "soon"}, "year-month-day"),
    ],
)
def test_a_wrong_hearing_says_what(cast: Cast, data: dict[str, str], says: str) -> None:
    response = send(cast, cast.assigned("listening")["listening"], noticed="The bass", **data)
    assert response.status_code == 422
    assert says in response.content.decode()
    assert "The bass" in response.content.decode()


def test_the_reference_is_chosen_beforehand_and_what_is_typed_counts(cast: Cast) -> None:
    step = cast.assigned("listening")["listening"]
    tune = step.assignment.tune
    Recording.objects.create(tune=tune, leader="Odo Fenn", is_reference=False)
    reference = Recording.objects.create(tune=tune, leader="Una Strand", is_reference=True)
    page = cast.play.get(reverse("work:step", args=[step.pk]))
    asked = page.content.decode()
    assert "(if you like)" not in asked[asked.index('name="recording"') - 300 : asked.index('name="on"')]
    assert page.context["form"]["recording"].value() == reference.pk
    assert reverse("tunes:recording", args=[reference.pk]) in page.content.decode()
    send(cast, step, recording=reference.pk, on="2020-01-01")
    send(cast, step, recording=reference.pk, heard="A late set", on="2020-01-02")
    assert [(row.recording, row.heard) for row in Listening.objects.order_by("on")] == [
        (reference, str(reference)),
        (None, "A late set"),
    ]


@pytest.mark.parametrize("link", ["javascript:alert(1)", "data:text/html,x", "ftp://host/file", "nonsense"])
def test_a_link_is_a_web_address(cast: Cast, link: str) -> None:
    response = send(cast, cast.assigned("hand-in")["hand-in"], link=link)
    assert response.status_code == 422
    assert not Submission.objects.exists()


def test_review_from_queue_to_ledger(cast: Cast) -> None:
    steps = cast.assigned("function", "sign-off")
    done = factories.make_attempt(steps["function"], cast.player, answers={"function:0": "5"}, hand_in=True)
    assert "Pia Player" in cast.lead.get(reverse("work:queue")).content.decode()
    token = str(uuid.uuid4())
    for _ in range(2):
        cast.lead.post(reverse("work:comment", args=[done.pk]), {"text": "Hear the bass", "bar": 1, "token": token})
    assert Comment.objects.count() == 1
    cast.lead.post(
        reverse("work:mark", args=[done.pk]),
        {"question": "function:0", "points": "1", "reason": "You explained it in class", "version": done.version},
    )
    done.refresh_from_db()
    assert (done.points, MarkOverride.objects.get().by) == (1.0, cast.leader)
    cast.lead.post(reverse("work:outcome", args=[done.pk]), {"act": "accept", "version": done.version})
    page = cast.play.get(reverse("work:attempt", args=[done.pk])).content.decode()
    assert "Hear the bass" in page
    assert "You explained it in class" in page
    assert Notice.objects.filter(user=cast.player, kind="reviewed").count() == 1
    cast.lead.get(reverse("work:queue"))  # shows the message that names her
    assert "Pia Player" not in cast.lead.get(reverse("work:queue")).content.decode()


def test_a_second_reviewer_is_told_and_keeps_what_was_typed(cast: Cast) -> None:
    done = factories.make_attempt(cast.assigned("function")["function"], cast.player, hand_in=True)
    data = {"question": "function:0", "points": "0.5", "reason": "Half of it", "version": done.version}
    assert cast.lead.post(reverse("work:mark", args=[done.pk]), data).status_code == 302
    late = cast.lead.post(reverse("work:mark", args=[done.pk]), data | {"reason": "My long reason"})
    assert late.status_code == 409
    assert "Someone else changed this sheet" in late.content.decode()
    assert "My long reason" in late.content.decode()
    assert MarkOverride.objects.count() == 1


def test_returned_work_no_longer_counts_and_gives_another_go(cast: Cast) -> None:
    step = cast.assigned("function", attempts_allowed=1)["function"]
    done = factories.make_attempt(step, cast.player, hand_in=True)
    cast.play.post(reverse("work:start", args=[step.pk]))
    assert Attempt.objects.count() == 1
    cast.lead.post(reverse("work:outcome", args=[done.pk]), {"act": "return", "version": done.version})
    standing = Evidence.objects.filter(withdraws__isnull=True, withdrawn_by__isnull=True)
    assert not standing.exists()
    cast.play.post(reverse("work:start", args=[step.pk]))
    assert Attempt.objects.filter(player=cast.player).count() == 2
    done.refresh_from_db()
    cast.lead.post(reverse("work:outcome", args=[done.pk]), {"act": "reopen", "version": done.version})
    assert standing.count() == 1


@pytest.mark.parametrize(
    "data",
    [
        {"points": "2", "reason": "x", "question": "function:0"},
        {"points": "x", "reason": "x", "question": "function:0"},
        {"points": "1", "reason": "", "question": "function:0"},
        {"points": "1", "reason": "x", "question": "function:99"},
        {"points": "nan", "reason": "x", "question": "function:0"},
        {},
    ],
)
def test_a_wrong_override_is_refused(cast: Cast, data: dict[str, str]) -> None:
    done = factories.make_attempt(cast.assigned("function")["function"], cast.player, hand_in=True)
    response = cast.lead.post(reverse("work:mark", args=[done.pk]), data | {"version": done.version})
    assert response.status_code == 422
    assert not MarkOverride.objects.exists()


def test_sign_off_of_the_ensemble_and_taking_it_back(cast: Cast) -> None:
    step = cast.assigned("sign-off")["sign-off"]
    address = reverse("work:sign-off", args=[step.pk])
    assert cast.lead.post(address, {"players": [cast.player.pk]}).status_code == 422
    assert cast.lead.post(address, {"evidence": "Played"}).status_code == 422
    stranger = factories.make_player(factories.make_ensemble())
    assert cast.lead.post(address, {"players": [stranger.pk], "evidence": "Played"}).status_code == 422
    for _ in range(2):
        data = {"players": [cast.player.pk, cast.other.pk], "evidence": "Two choruses from memory"}
        assert cast.lead.post(address, data).status_code == 302
    assert SignOff.objects.count() == Evidence.objects.count() == 2
    one = SignOff.objects.get(player=cast.player)
    cast.lead.post(reverse("work:take-back", args=[one.pk]))
    one.refresh_from_db()
    assert one.taken_back_by == cast.leader
    assert Evidence.objects.count() == 3  # nothing was deleted
    assert Evidence.objects.filter(withdraws__player=cast.player).count() == 1


def test_signing_off_says_what_is_not_done_yet_and_lets_it_pass(cast: Cast) -> None:
    steps = cast.assigned("sign-off", "listening")
    address = reverse("work:sign-off", args=[steps["sign-off"].pk])
    page = " ".join(cast.lead.get(address).content.decode().split())
    assert "Not done yet: heard (0 of 3), form (no mark that counts)" in page
    nobody = cast.lead.post(address, {"evidence": "Played"})
    assert (nobody.status_code, b"Tick at least one player." in nobody.content) == (422, True)
    answer = cast.lead.post(address, {"players": [cast.player.pk], "evidence": "Played"}, follow=True)
    assert "Still to be done before the tune counts as learned" in answer.content.decode()
    assert cast.player.name in answer.content.decode()
    assert SignOff.objects.filter(player=cast.player).count() == 1


def test_a_player_who_also_leads_cannot_sign_or_review_themselves(cast: Cast) -> None:
    from studio.models import Membership

    step = cast.assigned("function")["function"]
    done = factories.make_attempt(step, cast.player, hand_in=True)
    Membership.objects.filter(user=cast.player).update(role="instructor")
    cast.player.__dict__.pop("_chairs", None)
    assert cast.play.get(reverse("work:sheet", args=[done.pk])).status_code == 404


def test_the_ledger_counts_only_when_everything_is_there(cast: Cast) -> None:
    steps = cast.assigned("function", "sign-off")
    tune = steps["function"].assignment.tune
    client = Client()
    client.force_login(factories.make_director())
    client.post(reverse("work:requirements"), {"function-on": "on", "function-pass_mark": "0"})
    known = reverse("work:known") + f"?ensemble={cast.ensemble.pk}"
    for player in (cast.player, cast.other):
        factories.make_attempt(steps["function"], player, hand_in=True)
    assert tune.title not in client.get(known).content.decode()
    data = {"players": [cast.player.pk, cast.other.pk], "evidence": "Two choruses"}
    cast.lead.post(reverse("work:sign-off", args=[steps["sign-off"].pk]), data)
    assert tune.title in client.get(known).content.decode()
    rows = list(csv.DictReader(io.StringIO(cast.lead.get(reverse("work:ledger-csv")).getvalue().decode("utf-8-sig"))))
    assert [(r["Player"], r["Learned"], r["Signed off by"], r["On what evidence"]) for r in rows] == [
        ("Ola Other", "yes", "Leo Leader", "Two choruses"),
        ("Pia Player", "yes", "Leo Leader", "Two choruses"),
    ]


@pytest.mark.parametrize(
    ("text", "safe"),
    [
        ("=1+1", "'=1+1"),
        ("+49", "'+49"),
        ("-1", "'-1"),
        ("@sum", "'@sum"),
        ("\t=1", "'\t=1"),
        ("Ada", "Ada"),
        ("", ""),
    ],
)
def test_no_cell_is_a_formula(text: str, safe: str) -> None:
    """The characters are those of OWASP, "CSV Injection"."""
    assert safe_cell(text) == safe


def test_a_name_that_is_a_formula_is_harmless_in_the_csv(cast: Cast) -> None:
    cast.assigned("function")
    type(cast.player).objects.filter(pk=cast.player.pk).update(name='=HYPERLINK("x")')
    text = cast.lead.get(reverse("work:ledger-csv")).getvalue().decode()
    assert "'=HYPERLINK" in text
    assert "\n=HYPERLINK" not in text.replace('"', "")


@pytest.mark.parametrize(
    "query",
    [
        "?state=x",
        "?ensemble=abc",
        "?ensemble=99999999999999999999",
        "?assignment=-1",
        "?kind=<b>",
        "?page=9999",
        "?page=x",
        "?player=%00",
        "?state=missing&kind=function&player=a&assignment=1&ensemble=1",
    ],
)
def test_any_query_of_the_queue_is_answered(cast: Cast, query: str) -> None:
    cast.assigned("function")
    assert cast.lead.get(reverse("work:queue") + query).status_code == (400 if "%00" in query else 200)


@pytest.mark.parametrize("query", ["?ensemble=x", "?ensemble=0", "?tunes=x&page=x", "?q=%00%ff", "?q=" + "a+" * 200])
def test_any_query_of_the_ledger_is_answered(cast: Cast, query: str) -> None:
    cast.assigned("function")
    for route in ("work:ledger", "work:known", "work:ledger-csv"):
        assert cast.lead.get(reverse(route) + query).status_code in ((400,) if "%00" in query else (200, 404))


def test_the_listening_log_of_the_repertoire_counts_in_step_and_ledger(cast: Cast) -> None:
    """One log: what is written on a tune's page and on the step's page is counted together, in both ways of counting."""
    from assessments.selectors.ledger import grid, learned_pairs
    from tunes.models import Listening as LogEntry

    steps = cast.assigned("listening", "sign-off")
    tune = steps["listening"].assignment.tune
    recording = factories.make_recording(tune)
    LogEntry.objects.create(player=cast.player, recording=recording, heard_on=timezone.now())
    assert send(cast, steps["listening"], recording=recording.pk, on="2020-01-01").status_code == 302
    assert send(cast, steps["listening"], heard="A concert", on="2020-01-02").status_code == 302
    page = cast.play.get(reverse("work:step", args=[steps["listening"].pk])).content.decode()
    assert "heard 3 times (1 asked)" in page
    assert "A concert" in page
    director = Client()
    director.force_login(factories.make_director())
    asked = {"listening-on": "on", "listening-times": 3}
    for times, learned in ((3, True), (4, False)):
        director.post(reverse("work:requirements"), asked | {"listening-times": times})
        cast.lead.post(
            reverse("work:sign-off", args=[steps["sign-off"].pk]), {"players": [cast.player.pk], "evidence": "Played"}
        )
        (row,) = grid([cast.player], [tune])
        assert row.cells[0][1].learned is learned
        assert learned_pairs([cast.player.pk]).exists() is learned


def test_the_overview_says_what_needs_doing(cast: Cast) -> None:
    """One sheet to review, one overdue sign-off for each of two players, one tune without a chart."""
    past = timezone.now() - timezone.timedelta(days=1)
    steps = cast.assigned("function", "sign-off", due=past)
    factories.make_attempt(steps["function"], cast.player, hand_in=True)
    factories.make_tune("Bare")
    said = " ".join(re.sub(r"<[^>]+>", " ", cast.lead.get(reverse("work:overview")).content.decode()).split())
    for words in (
        "1 sheet to review",
        "2 players have not done all that was due (2 steps)",
        "1 tune has no chart yet",
        "2 players",
    ):
        assert words in said, words
    assert "password" not in said  # people are the director's business
    director = Client()
    director.force_login(factories.make_director())
    assert director.get("/").headers["Location"] == reverse("work:overview")
    factories.make_ensemble("Nobody's", term=cast.ensemble.term)
    said = " ".join(re.sub(r"<[^>]+>", " ", director.get(reverse("work:overview")).content.decode()).split())
    assert "1 ensemble has no instructor" in said


def test_the_overview_leads_a_new_director_and_shows_what_is_to_come() -> None:
    director = Client()
    director.force_login(factories.make_director())
    page = director.get(reverse("work:overview"))
    assert [step.done for step in page.context["first_steps"]] == [False] * 5
    assert "To begin with" in page.text
    ensemble = factories.make_ensemble()
    player = factories.make_player(ensemble)
    revision = factories.make_chart_revision("Alder")
    page = director.get(reverse("work:overview"))
    assert [step.done for step in page.context["first_steps"]][:3] == [True, True, True]
    factories.make_assignment(ensemble, revision=revision)
    today = timezone.localdate()
    later = Term.objects.create(
        name="Next", starts=today + timezone.timedelta(400), ends=today + timezone.timedelta(500)
    )
    factories.make_ensemble("Late Quintet", term=later)
    page = director.get(reverse("work:overview"))
    assert not page.context["first_steps"]
    assert page.text.count("Late Quintet, Next") == 1  # among those to come alone
    assert page.text.index("To come") < page.text.index("Late Quintet, Next")
    players = Client()
    players.force_login(player)
    assert players.get(reverse("work:overview")).status_code == 403


def test_every_step_of_the_desk_leads_to_its_page(cast: Cast) -> None:
    steps = cast.assigned("function", "listening", "sign-off")
    page = cast.play.get(reverse("work:desk")).content.decode()
    assert page.count("Your tunes") == 1
    assert all(page.count(reverse("work:step", args=[step.pk])) for step in steps.values())
