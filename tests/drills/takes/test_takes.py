"""Takes: what is kept of what was sent, where a moment lies in the form, who deletes what and when."""

from __future__ import annotations

import datetime as dt
import io
import uuid
from pathlib import Path
from typing import Any
from unittest.mock import patch as patched

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from api.scopes import WORK_WRITE
from api.tokens import make_token
from api.views import takes as api_takes
from drills.models import Take, TakeComment, TakeRule
from drills.takes import services, views, waves
from drills.takes.gate import Gate
from drills.takes.played import Spot, moment, spot_at, spot_in_words
from drills.takes.rule import kept_since, kept_until
from studio.models import Notice
from studio.rounds import PARTS
from tests import factories
from tests.access_rows.takes import make_take
from tests.sounds import encoded, tone
from tunes.audio import SoundRefused, inspect, peaks

WALTZ = [[1, 0.0, 3.0, 3, 4], [2, 3.0, 3.0, 3, 4], [2, 6.0, 3.0, 3, 4], [3, 9.0, 1.5, 3, 8]]


def at(bars: list[list[float]], **fields: Any) -> Take:
    usual: dict[str, Any] = {"tempo": 120, "starts_at": 2.0, "choruses": 2}
    return Take(played={"version": 1, "bars": bars, "notes": []}, **{**usual, **fields})


# Worked by hand: at 120 a crotchet lasts half a second; bar 1 begins at 2 s; the chorus has 10.5 crotchets.
@pytest.mark.parametrize(
    ("spot", "seconds", "words"),
    [
        (Spot(1, 0, 0.0), 2.0, "Chorus 1, bar 1, beat 1"),
        (Spot(1, 1, 1.5), 4.25, "Chorus 1, bar 2, and of 2"),
        (Spot(1, 2, 2.0), 6.0, "Chorus 1, bar 2, time 2, beat 3"),
        (Spot(1, 3, 0.0), 6.5, "Chorus 1, bar 3, beat 1"),
        (Spot(2, 0, 2.9), 8.7, "Chorus 2, bar 1, and of 3"),
    ],
)
def test_a_moment_lies_at_a_bar_and_beat(spot: Spot, seconds: float, words: str) -> None:
    take = at(WALTZ)
    assert moment(take, spot) == pytest.approx(seconds)
    assert spot_at(take, seconds) == spot
    assert spot_in_words(take, spot) == words


def test_before_the_first_bar_and_after_the_last_chorus_there_is_no_bar() -> None:
    take = at(WALTZ)
    assert [spot_at(take, seconds) for seconds in (0.0, 1.99, 2 + 10.5 + 0.01)] == [None, None, None]
    assert spot_at(at([]), 5.0) is None
    assert spot_in_words(at([[0, 0.0, 1.0, 4, 4]], choruses=1), Spot(1, 0, 0.0)) == "Pickup, beat 1"


@given(
    st.integers(30, 320),
    st.floats(0, 20),
    st.lists(st.sampled_from([(4, 4), (3, 4), (5, 4), (6, 8), (7, 4)]), min_size=1, max_size=40),
    st.data(),
)
def test_every_spot_is_found_again(
    tempo: int, starts: float, metres: list[tuple[int, int]], data: st.DataObject
) -> None:
    bars, start = [], 0.0
    for number, (beats, unit) in enumerate(metres, 1):
        bars.append([number, start, beats * 4 / unit, beats, unit])
        start += beats * 4 / unit
    take = at(bars, tempo=tempo, starts_at=starts, choruses=3)
    bar = data.draw(st.integers(0, len(bars) - 1))
    beat = data.draw(st.integers(0, int(bars[bar][2] * 4) - 1)) / 4
    spot = Spot(data.draw(st.integers(1, 3)), bar, beat)
    found = spot_at(take, moment(take, spot))
    assert found is not None
    assert (found.chorus, found.bar) == (spot.chorus, spot.bar)
    assert found.beat == pytest.approx(spot.beat, abs=0.002)


# Months of the calendar, worked by hand (ISO 8601 dates).
@pytest.mark.parametrize(
    ("made", "months", "until"),
    [
        ("2026-01-31", 1, "2026-02-28"),
        ("2027-08-30", 6, "2028-02-29"),
        ("2026-11-30", 12, "2027-11-30"),
        ("2026-12-01", 1, "2027-01-01"),
    ],
)
def test_a_rule_counts_months_of_the_calendar(made: str, months: int, until: str) -> None:
    assert kept_until(months, dt.datetime.fromisoformat(made)) == dt.datetime.fromisoformat(until)
    assert kept_until(0, dt.datetime.fromisoformat(made)) is None
    assert kept_since(0, dt.datetime.fromisoformat(made)) is None


# --- the sound


@pytest.mark.parametrize(
    ("container", "codec", "rate", "media_type"),
    [
        ("webm", "libopus", 48000, "audio/webm"),
        ("mp4", "aac", 44100, "audio/mp4"),
        ("ogg", "libopus", 48000, "audio/ogg"),
    ],
)
def test_what_browsers_record_is_kept_so_that_one_can_seek(
    container: str, codec: str, rate: int, media_type: str
) -> None:
    heard = services.looked_at(SimpleUploadedFile("x", encoded(container, codec, rate, 4)))
    again = inspect(io.BytesIO(heard.content), len(heard.content))
    assert (again.media_type, again.codec) == (media_type, heard.sound.codec)
    assert again.duration == pytest.approx(4, abs=0.1)
    heights = peaks(io.BytesIO(heard.content), media_type, Take.PEAKS)
    assert len(heights) == pytest.approx(4 * Take.PEAKS, abs=2)
    assert max(heights) in range(18, 29)  # 9000 of 32768 is 27 of 99; a mono tone spread to two sides is 3 dB less


def test_a_recording_without_a_length_gets_one() -> None:
    """As a browser streams it: a WebM whose segment has no duration and no cues (RFC 9559, sections 5.1.2 and 22)."""
    import av

    out = io.BytesIO()

    class OneWay:
        """Can be written, never rewound: the writer can put no length into its head."""

        def write(self, data: bytes) -> int:
            return out.write(data)

    with (
        av.open(io.BytesIO(encoded("webm", "libopus", 48000, 4))) as source,
        av.open(OneWay(), "w", format="webm", options={"live": "1"}) as made,
    ):
        copy = made.add_stream_from_template(source.streams.audio[0])
        for packet in source.demux(source.streams.audio[0]):
            if packet.dts is not None:
                packet.stream = copy
                made.mux(packet)
    with av.open(io.BytesIO(out.getvalue())) as raw:
        assert raw.duration is None
    heard = services.looked_at(SimpleUploadedFile("x", out.getvalue()))
    with av.open(io.BytesIO(heard.content)) as kept:
        assert kept.duration == pytest.approx(4_000_000, abs=100_000)


def test_what_is_no_take_is_refused_with_the_reason() -> None:
    for content, words in (
        (b"not a sound" * 50, "not a sound file"),
        (encoded("webm", "libopus", 48000, 4)[:3000], "damaged|no sound|No sound|record"),
    ):
        with pytest.raises(SoundRefused, match=words):
            services.looked_at(SimpleUploadedFile("x", content))
    with pytest.raises(SoundRefused, match="longer than 3 seconds"):
        services.looked_at(SimpleUploadedFile("x", tone(6.0)), seconds=3)
    with pytest.raises(SoundRefused, match="larger than 1 MB"):
        services.looked_at(SimpleUploadedFile("x", bytes(2 << 20)), bytes_=1 << 20)
    with pytest.raises(SoundRefused):
        peaks(io.BytesIO(b"\x1aE\xdf\xa3 nothing"), "audio/webm", 20)


# --- kept, given, deleted


@pytest.fixture
def cast(db: None) -> dict[str, Any]:
    ensemble = factories.make_ensemble()
    revision = factories.make_version(factories.make_tune("Harbour Steps"))
    return {
        "ensemble": ensemble, "revision": revision, "player": factories.make_player(ensemble, "Noor"),
        "leader": factories.make_instructor(ensemble, "Teodor"),
    }  # fmt: skip


def signed_in(user: Any) -> Client:
    client = Client()
    client.force_login(user)
    return client


def sent(cast: dict[str, Any], **changes: Any) -> dict[str, Any]:
    fields = {
        "kind": "chorus", "revision": cast["revision"].pk, "query": "", "tempo": 120, "starts_at": "2.05", "choruses": 1,
        "heard_with": "band", "token": str(uuid.uuid4()), "file": SimpleUploadedFile("take", encoded("webm", "libopus", 48000, 4)),
    }  # fmt: skip
    return {**fields, **changes}


def test_a_take_is_sent_once_however_often_it_is_tried(cast: dict[str, Any]) -> None:
    client = signed_in(cast["player"])
    token = str(uuid.uuid4())
    first = client.post(reverse("drills:take-new"), sent(cast, token=token))
    again = client.post(reverse("drills:take-new"), sent(cast, token=token, file=SimpleUploadedFile("x", b"cut off")))
    assert (first.status_code, again.status_code, first.json()) == (201, 200, again.json())
    take = Take.objects.get()
    assert (take.title, take.tempo, take.media_type, take.ensemble) == ("Solo", 120, "audio/webm", None)
    assert [row[0] for row in take.played["bars"]] == [1, 2, 3, 4]
    assert take.played["notes"] == []


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"tempo": 5}, "Tempo"),
        ({"revision": 987654}, "no longer there"),
        ({"kind": "melody"}, "No melody is kept"),
        ({"file": SimpleUploadedFile("x", b"text, not sound" * 90)}, "not a sound file"),
        ({"starts_at": "nan"}, "Starts at"),
        ({"token": "no"}, "Token"),
    ],
)
def test_a_take_that_cannot_be_kept_says_why(cast: dict[str, Any], changes: dict[str, Any], words: str) -> None:
    answer = signed_in(cast["player"]).post(reverse("drills:take-new"), sent(cast, **changes))
    assert answer.status_code == 422
    assert words in answer.json()["problem"]
    assert not Take.objects.exists()


def test_a_drill_keeps_the_notes_that_were_asked(cast: dict[str, Any]) -> None:
    """Guide tones over a II-V-I in B flat, sounding: 3rd or 7th of each chord, as their names say."""
    take = make_take(
        cast["player"], cast["revision"], kind="drill", query="kind=guide-tones&start=3&instrument=tenor-sax"
    )
    thirds_and_sevenths = {1: {3, 10}, 0: {9, 3}}  # pitch classes of Cm7: E flat, B flat; of F7: A, E flat
    first, second = (note[2] % 12 for note in take.played["notes"][:2])
    assert first in thirds_and_sevenths[1]
    assert second in thirds_and_sevenths[0]
    assert take.title.startswith("Guide tones")


def files() -> set[str]:
    """Every file of takes in storage."""
    root = Path(settings.MEDIA_ROOT) / "takes"
    return {str(path.relative_to(root.parent)) for path in root.rglob("*") if path.is_file()}


def named() -> set[str]:
    """Every file that a row names."""
    rows = [*Take.objects.exclude(file=""), *TakeComment.objects.exclude(file="")]
    return {row.file.name for row in rows}


@pytest.fixture
def committing(django_capture_on_commit_callbacks: Any) -> Any:
    """What happens once a transaction holds, happens."""
    return lambda: django_capture_on_commit_callbacks(execute=True)


def test_storage_holds_what_the_rows_name_and_nothing_else(cast: dict[str, Any], committing: Any) -> None:
    """However a take goes: thrown away, by the rule, with its player, its comment taken back."""
    before = files()
    player, leader, now = cast["player"], cast["leader"], timezone.now()
    spoken = services.looked_at(SimpleUploadedFile("x", tone(1.0)))

    def given(days: int) -> Take:
        take = make_take(player, cast["revision"], ensemble=cast["ensemble"])
        Take.objects.filter(pk=take.pk).update(made=now - dt.timedelta(days=days))
        services.comment(take=take, by=leader, spot=Spot(1, 0), token=uuid.uuid4(), text="Yes", spoken=spoken)
        return take

    old, young, own = given(400), given(100), make_take(player, cast["revision"])
    assert files() - before == named()
    assert len(named()) == 5
    TakeRule.objects.create(months=12)
    with committing():
        tidy = next(part for part in PARTS if part.name == "takes")
        tidy.run(now)
        services.remove(take=own)
    assert files() - before == named()
    assert len(named()) == 2
    old.refresh_from_db()
    assert (bool(old.file), old.gone_why, old.comments.get().text) == (False, "Deleted by the programme's rule", "Yes")
    assert not Take.objects.filter(pk=own.pk).exists()
    with committing():
        services.take_back(comment=young.comments.get())
        services.remove(take=young)
    assert files() - before == named() == set()
    make_take(player, cast["revision"])
    with committing():
        Take.objects.filter(player=player).delete()  # as erasing the person does
    assert files() - before == set()


def test_a_comment_is_said_once_and_answered_once(cast: dict[str, Any]) -> None:
    take = make_take(cast["player"], cast["revision"], ensemble=cast["ensemble"])
    leader, player = signed_in(cast["leader"]), signed_in(cast["player"])
    fields = {"chorus": 1, "bar": 1, "beat": 2.5, "text": "Lay back <b>here</b>", "token": str(uuid.uuid4())}
    for _ in range(2):
        leader.post(reverse("drills:take-comment", args=[take.pk]), fields)
    row = take.comments.get()
    page = player.get(reverse("drills:take", args=[take.pk])).content.decode()
    assert "Lay back &lt;b&gt;here" in page
    assert "Bar 2, and of 3" in page
    answers = [
        player.post(
            reverse("drills:take-answer", args=[row.pk]), {"text": text}, headers={"X-Topform": "part"}
        ).status_code
        for text in ("I hear it", "No")
    ]
    row.refresh_from_db()
    assert (answers, row.answer) == ([200, 409], "I hear it")
    assert Notice.objects.filter(user=cast["player"], kind="reviewed").count() == 1
    assert "Noor has answered" in Notice.objects.get(user=cast["leader"], kind="answered").text
    wrong = leader.post(
        reverse("drills:take-comment", args=[take.pk]),
        fields | {"bar": 99, "token": str(uuid.uuid4())},
        headers={"X-Topform": "part"},
    )
    assert wrong.status_code == 422
    assert "4 bars" in wrong.content.decode()


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("Time: lost, found again, steady", [["Time", ["lost", "found again", "steady"]]]),
        ("", []),
        ("Time lost", "write a question, a colon"),
        ("Time: lost", "at least two words"),
        ("Time: a, b\nTime: c, d", "each of them once"),
    ],
)
def test_the_programme_writes_its_own_words(cast: dict[str, Any], typed: str, kept: Any) -> None:
    director = signed_in(factories.make_director())
    answer = director.post(reverse("drills:take-rule"), {"months": 6, "rubric": typed})
    if isinstance(kept, str):
        assert answer.status_code == 422
        assert kept in answer.content.decode()
    else:
        assert TakeRule.current().rubric == kept
        take = make_take(cast["player"], cast["revision"], ensemble=cast["ensemble"])
        services.say_on_the_whole(take=take, words={"Time": "steady", "Sound": "thin"})
        assert take.rubric == ({"Time": "steady"} if kept else {})


def test_the_microphone_is_asked_for_only_where_something_is_recorded(cast: dict[str, Any]) -> None:
    """The header of the W3C's Permissions Policy, section 5.2: an empty list allows nobody."""
    take = make_take(cast["player"], cast["revision"])
    client, revision = signed_in(cast["player"]), cast["revision"].pk
    recording = {
        reverse("drills:drill", args=[revision]),
        reverse("drills:band", args=[revision]),
        reverse("drills:take", args=[take.pk]),
    }
    step = factories.make_assignment(cast["ensemble"], kinds=("hand-in",), revision=cast["revision"]).steps.get()
    recording.add(reverse("work:step", args=[step.pk]))
    for address in (*sorted(recording), "/", reverse("drills:takes"), reverse("tunes:index"), reverse("account_login")):
        said = client.get(address, follow=True).headers["Permissions-Policy"]
        assert ("microphone=(self)" in said) == (address in recording), address
        assert "camera=()" in said


def test_a_device_that_two_people_use_keeps_them_apart(cast: dict[str, Any]) -> None:
    other = factories.make_player(cast["ensemble"], "Emil")
    answer = signed_in(other).post(reverse("drills:take-new"), sent(cast, player=str(cast["player"].pk)))
    assert answer.status_code == 409
    assert not Take.objects.exists()


def test_the_pages_that_record_say_what_is_played(cast: dict[str, Any]) -> None:
    client = signed_in(cast["player"])
    drill = client.get(reverse("drills:drill", args=[cast["revision"].pk]), {"kind": "scales"}).context["record"][
        "setting"
    ]
    band = client.get(reverse("drills:band", args=[cast["revision"].pk])).context["record"]
    assert (drill["kind"], band["setting"]["kind"], band["kinds"]) == ("drill", "chorus", [])
    take = make_take(cast["player"], cast["revision"], kind="drill", query=drill["query"])
    assert [row[:3] for row in take.played["bars"]] == [row[:3] for row in drill["bars"]]
    assert "style=" in band["setting"]["band"]
    assert all(drill["playing"][part] for part in ("bars", "bass", "piano", "drums"))  # the band over a drill, too


@pytest.mark.parametrize(("call", "unfit"), [(False, 422), (True, 400)], ids=["page", "call"])
def test_an_ensemble_that_sends_together_is_told_to_come_again(cast: dict[str, Any], call: bool, unfit: int) -> None:
    """Before, thirty takes at once held every thread of the server and no page was answered meanwhile. RFC 9110, 10.2.3."""
    gate, token, client = Gate(waiting=0), str(uuid.uuid4()), signed_in(cast["player"])
    address, headers = reverse("drills:take-new"), {}
    if call:
        address = reverse("api:takes")
        headers = {
            "Authorization": f"Bearer {make_token(owner=cast['player'], name='', scopes=[WORK_WRITE], days=1)[1]}"
        }
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(api_takes if call else views, "GATE", gate)
        with gate.entered():
            away = client.post(address, sent(cast, token=token), headers=headers)
        assert (away.status_code, away.headers["Retry-After"], Take.objects.count()) == (429, "2", 0)
        refused = client.post(address, sent(cast, tempo=0), headers=headers)
        kept = client.post(address, sent(cast, token=token), headers=headers)
    assert (refused.status_code, kept.status_code) == (unfit, 201)


def test_a_waveform_is_drawn_in_the_background(cast: dict[str, Any], committing: Any) -> None:
    """Before, whoever sent a take waited until the whole of it was decoded, and so did every page beside it."""
    client = signed_in(cast["player"])
    with patched("drills.takes.waves.peaks") as drawing:
        client.post(reverse("drills:take-new"), sent(cast))
        assert not drawing.called
    take = Take.objects.get()
    assert client.get(reverse("drills:take-wave", args=[take.pk])).status_code == 204
    waves.draw_missing(timezone.now())
    assert max(client.get(reverse("drills:take-wave", args=[take.pk])).json()["peaks"]) in range(18, 29)
    take.file.storage.delete(take.file.name)
    Take.objects.update(peaks=[])
    assert [waves.draw_missing(timezone.now()), waves.draw_missing(timezone.now())] == [1, 0]  # it is tried once
