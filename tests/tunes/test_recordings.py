"""Recordings: ranges by RFC 9110, uploads believed by their content alone, form maps, the listening log."""

from __future__ import annotations

import io
import json
import re
import struct
import uuid
from datetime import timedelta
from typing import Any

import av
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from studio.keeping import clear_old
from studio.models import KeptFile
from tests import factories
from tests.sounds import encoded, tone
from tunes.audio import MAX_SECONDS, SoundRefused, inspect
from tunes.models import EarResult, FormMark, Listening, RecordingFile
from tunes.recordings import waves
from tunes.recordings.charts import form_bars, form_chart
from tunes.recordings.form_map import FormMapProblem, Moment, bar_times, checked, place_at
from tunes.recordings.forms import LyricForm
from tunes.recordings.ranges import Span, Unsatisfiable, if_range_holds, wanted
from tunes.recordings.selectors import caution_due, ear_evidence, listening_evidence
from tunes.recordings.services import caution_seen, keep_sound, remove_sound


def look(data: bytes) -> Any:
    return inspect(io.BytesIO(data), len(data))


# --- what is sound


@pytest.mark.parametrize(
    ("container", "codec", "rate", "media_type"),
    [
        ("mp3", "libmp3lame", 44100, "audio/mpeg"),
        ("ogg", "libopus", 48000, "audio/ogg"),
        ("flac", "flac", 44100, "audio/flac"),
        ("ipod", "aac", 44100, "audio/mp4"),
        ("webm", "libopus", 48000, "audio/webm"),
        ("adts", "aac", 44100, "audio/aac"),
    ],
)
def test_what_browsers_play_is_taken(container: str, codec: str, rate: int, media_type: str) -> None:
    sound = look(encoded(container, codec, rate))
    assert sound.media_type == media_type
    assert sound.duration == pytest.approx(8, abs=0.15)


def test_a_wav_is_taken() -> None:
    assert look(tone(3)).duration == pytest.approx(3, abs=0.01)


def film() -> bytes:
    """A film with a picture track and no sound."""
    out = io.BytesIO()
    with av.open(out, "w", format="mp4") as made:
        stream = made.add_stream("mpeg4", rate=10)
        stream.width = stream.height = 32
        stream.pix_fmt = "yuv420p"
        for _number in range(10):
            made.mux(stream.encode(av.VideoFrame(32, 32, "yuv420p")))
        made.mux(stream.encode(None))
    return out.getvalue()


def film_with_sound() -> bytes:
    out = io.BytesIO()
    with av.open(out, "w", format="matroska") as made:
        picture = made.add_stream("mpeg4", rate=10)
        picture.width = picture.height = 32
        picture.pix_fmt = "yuv420p"
        sound = made.add_stream("libopus", rate=48000)
        for _number in range(10):
            made.mux(picture.encode(av.VideoFrame(32, 32, "yuv420p")))
        frame = av.AudioFrame(format="s16", layout="mono", samples=960)
        frame.sample_rate = 48000
        made.mux(sound.encode(frame))
        made.mux(picture.encode(None))
        made.mux(sound.encode(None))
    return out.getvalue()


def claims(seconds: int) -> bytes:
    """A WAV whose header promises hours of sound that are not there."""
    data = bytearray(tone(1))
    size = seconds * 16000
    data[4:8] = struct.pack("<I", size + 36)
    data[40:44] = struct.pack("<I", size)
    return bytes(data)


NO_SOUND: dict[str, Any] = {
    "nothing": lambda: b"",
    "text": lambda: b"just some words",
    "playlist that names a file": lambda: b"#EXTM3U\n#EXT-X-VERSION:3\nfile:///etc/passwd\n",
    "playlist that names an address": lambda: b"#EXTM3U\n#EXTINF:1,\nhttp://169.254.169.254/latest\n",
    "list of parts": lambda: b"ffconcat version 1.0\nfile /etc/passwd\n",
    "HTML": lambda: b"<html><script>alert(1)</script></html>",
    "SVG": lambda: b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
    "HTML behind an ID3 head": lambda: b"ID3\x04\x00\x00\x00\x00\x00\x00<html><script>alert(1)</script></html>",
    "PDF": lambda: b"%PDF-1.7",
    "program": lambda: b"MZ" + b"\x00" * 500,
    "zip": lambda: b"PK\x03\x04" + b"\x00" * 500,
    "picture": lambda: b"\x89PNG\r\n\x1a\n" + b"\x00" * 500,
    "RIFF that is no WAV": lambda: b"RIFF\x00\x00\x00\x00AVI " + b"\x00" * 500,
    "WAV head alone": lambda: tone(1)[:44],
    "WAV of zeros": lambda: b"RIFF\x00\x00\x00\x00WAVE" + b"\x00" * 500,
    "WAV that promises hours": lambda: claims(3600),
    "WAV cut in half": lambda: tone(6)[:40000],
    "MP3 head and nothing": lambda: b"\xff\xfb\x90\x00" + b"\x00" * 3000,
    "ID3 head and nothing": lambda: b"ID3" + b"\x00" * 500,
    "Ogg head and nothing": lambda: b"OggS" + b"\x00" * 1000,
    "FLAC head and nothing": lambda: b"fLaC" + b"\x00" * 1000,
    "MP4 head and nothing": lambda: b"\x00\x00\x00\x20ftypM4A " + b"\x00" * 300,
    "Matroska head and nothing": lambda: b"\x1aE\xdf\xa3" + b"\x00" * 300,
    "M4A cut in half": lambda: (lambda d: d[: len(d) // 2])(encoded("ipod", "aac", 44100, 2)),
    "film": film,
    "film with sound": film_with_sound,
    "a tenth of a second": lambda: tone(0.1),
    "longer than any take": lambda: tone(MAX_SECONDS + 60, 1000),
}  # fmt: skip


def test_there_are_enough_of_them() -> None:
    assert len(NO_SOUND) >= 25


@pytest.mark.parametrize("name", NO_SOUND)
def test_what_is_no_sound_is_refused(name: str) -> None:
    with pytest.raises(SoundRefused) as caught:
        look(NO_SOUND[name]())
    line = str(caught.value)
    assert 15 < len(line) < 200
    assert line.endswith(".")


def test_a_file_too_large_is_refused_unread() -> None:
    with pytest.raises(SoundRefused, match="larger than"):
        inspect(io.BytesIO(b""), 10**10)


# --- ranges (RFC 9110, section 14)


@pytest.mark.parametrize(
    ("header", "span"),
    [
        # The examples of RFC 9110, section 14.1.2, for a representation of 10 000 bytes.
        ("bytes=0-499", (0, 499)),
        ("bytes=500-999", (500, 999)),
        ("bytes=-500", (9500, 9999)),
        ("bytes=9500-", (9500, 9999)),
        ("bytes=0-0", (0, 0)),
        ("bytes=-1", (9999, 9999)),
        # Not in the examples: beyond the end is cut to it; units are case-insensitive (14.1).
        ("bytes=9990-20000", (9990, 9999)),
        ("bytes=-20000", (0, 9999)),
        ("BYTES=1-2", (1, 2)),
        # Ignored: unknown unit, several ranges, the last before the first, no numbers.
        ("lines=1-2", None),
        ("bytes=0-0,-1", None),
        ("bytes=500-499", None),
        ("bytes=-", None),
        ("bytes=a-b", None),
        ("bytes 0-5", None),
        ("bytes=", None),
        ("", None),
        (None, None),
    ],
)
def test_ranges(header: str | None, span: tuple[int, int] | None) -> None:
    found = wanted(header, 10_000)
    assert found == (Span(*span, 10_000) if span else None)


@pytest.mark.parametrize("header", ["bytes=10000-", "bytes=10000-10001", "bytes=-0"])
def test_ranges_that_no_byte_fits(header: str) -> None:
    with pytest.raises(Unsatisfiable):
        wanted(header, 10_000)


@given(st.text(max_size=40) | st.from_regex(r"bytes=\d{0,25}-\d{0,25}", fullmatch=True), st.integers(0, 10**9))
def test_any_range_lies_inside_the_file(header: str, size: int) -> None:
    try:
        span = wanted(header, size)
    except Unsatisfiable:
        return
    assert span is None or 0 <= span.first <= span.last < size


@pytest.mark.parametrize(
    ("header", "holds"),
    [(None, True), ('"a"', True), ('"b"', False), ('W/"a"', False), ("Wed, 01 Jan 2025 00:00:00 GMT", True),
     ("Thu, 02 Jan 2025 00:00:00 GMT", False)],
)  # fmt: skip
def test_if_range(header: str | None, holds: bool) -> None:
    assert if_range_holds(header, '"a"', "Wed, 01 Jan 2025 00:00:00 GMT") is holds


@pytest.fixture
def kept(db: None) -> RecordingFile:
    data = tone(2)
    upload = SimpleUploadedFile("take one.wav", data, "audio/wav")
    recording = factories.make_recording(factories.make_tune())
    return keep_sound(
        recording=recording, upload=upload, sound=look(data), rights="our own take", by=factories.make_user()
    )


@pytest.fixture
def listener(db: None) -> Client:
    client = Client()
    client.force_login(factories.make_player(factories.make_ensemble()))
    return client


def body(response: Any) -> bytes:
    return b"".join(response.streaming_content) if response.streaming else response.content


def test_the_sound_is_sent_whole_and_in_pieces(kept: RecordingFile, listener: Client) -> None:
    address = reverse("tunes:recording-sound", args=[kept.recording_id])
    data = tone(2)
    whole = listener.get(address)
    assert whole.status_code == 200
    assert body(whole) == data
    assert whole.headers["Accept-Ranges"] == "bytes"
    assert whole.headers["Content-Type"] == "audio/wav"
    assert whole.headers["X-Content-Type-Options"] == "nosniff"
    assert "private" in whole.headers["Cache-Control"]
    assert whole.headers["Content-Disposition"] == 'inline; filename="take one.wav"'
    piece = listener.get(address, headers={"Range": "bytes=100-199"})
    assert piece.status_code == 206
    assert body(piece) == data[100:200]
    assert piece.headers["Content-Range"] == f"bytes 100-199/{len(data)}"
    assert piece.headers["Content-Length"] == "100"
    tail = listener.get(address, headers={"Range": "bytes=-50"})
    assert body(tail) == data[-50:]


def test_refusals_and_conditions_of_the_stream(kept: RecordingFile, listener: Client) -> None:
    address = reverse("tunes:recording-sound", args=[kept.recording_id])
    etag = listener.head(address).headers["ETag"]
    beyond = listener.get(address, headers={"Range": "bytes=99999999-"})
    assert beyond.status_code == 416
    assert beyond.headers["Content-Range"] == f"bytes */{kept.size}"
    assert listener.get(address, headers={"If-None-Match": etag}).status_code == 304
    assert listener.get(address, headers={"If-Match": '"other"'}).status_code == 412
    assert listener.get(address, headers={"Range": "bytes=0-9", "If-Range": etag}).status_code == 206
    changed = listener.get(address, headers={"Range": "bytes=0-9", "If-Range": '"other"'})
    assert changed.status_code == 200
    assert len(body(changed)) == kept.size


def test_head_has_the_headers_and_no_body(kept: RecordingFile, listener: Client) -> None:
    head = listener.head(reverse("tunes:recording-sound", args=[kept.recording_id]), headers={"Range": "bytes=0-9"})
    assert head.status_code == 200  # RFC 9110, 14.2: Range is defined for GET alone
    assert head.headers["Content-Length"] == str(kept.size)
    assert head.content == b""


def test_the_file_lies_outside_everything_served(kept: RecordingFile, settings: Any) -> None:
    assert str(kept.file.path).startswith(str(settings.MEDIA_ROOT))
    assert not str(kept.file.path).startswith(str(settings.STATIC_ROOT))
    assert "take" not in kept.file.name
    with pytest.raises(ValueError, match="no address"):
        _ = kept.file.url


def test_replacing_and_removing_deletes_the_old_file(
    kept: RecordingFile, django_capture_on_commit_callbacks: Any
) -> None:
    storage, name = kept.file.storage, kept.file.name
    data = tone(1)
    upload = SimpleUploadedFile("two.wav", data)
    with django_capture_on_commit_callbacks(execute=True):
        fresh = keep_sound(
            recording=kept.recording, upload=upload, sound=look(data), rights="our own", by=kept.uploaded_by
        )
    assert not storage.exists(name)
    assert RecordingFile.objects.get() == fresh
    with django_capture_on_commit_callbacks(execute=True):
        remove_sound(sound=fresh)
    assert not storage.exists(fresh.file.name)


def test_upload_asks_for_the_right(db: None) -> None:
    recording = factories.make_recording(factories.make_tune())
    client = Client()
    client.force_login(factories.make_instructor(factories.make_ensemble()))
    address = reverse("tunes:recording-upload", args=[recording.pk])
    data = {"file": SimpleUploadedFile("a.mp3", tone(1)), "rights": "recorded by our own band"}
    refused = client.post(address, data)
    assert refused.status_code == 422
    assert b"Without that right" in refused.content
    data = {"file": SimpleUploadedFile("a.mp3", tone(1)), "rights": "recorded by our own band", "allowed": "on"}
    assert client.post(address, data).status_code == 302
    assert recording.sound.media_type == "audio/wav"  # by content, whatever the name says
    wrong = client.post(address, data | {"file": SimpleUploadedFile("a.wav", b"<html>")})
    assert wrong.status_code == 422
    assert b"not a sound file" in wrong.content


def test_a_recording_and_its_sound_are_one_form(db: None) -> None:
    """The file goes along with the facts; without the right to keep it both are asked again, and without a file neither."""
    client, tune = Client(), factories.make_tune(key="F major")
    client.force_login(factories.make_instructor(factories.make_ensemble()))
    address = reverse("tunes:recording_new", args=[tune.pk])
    facts = {"leader": "The Alder Band", "key": "", "tempo": "", "link": "", "why": ""}
    sent = client.post(address, {**facts, "file": SimpleUploadedFile("a.wav", tone(4)), "rights": "ours"})
    assert (sent.status_code, tune.recordings.count()) == (422, 0)
    token = re.search(rb'name="kept" value="([^"]+)"', sent.content)
    assert token is not None
    whole = {**facts, "kept": token[1].decode(), "rights": "our own, recorded in the hall", "allowed": "on"}
    assert client.post(address, whole).status_code == 302
    sound = RecordingFile.objects.get(recording__leader="The Alder Band")
    waves.draw(sound)
    sound.refresh_from_db()
    # 9000 of 32768 is 27 of 99: the tone of tests.sounds, loudest in every twentieth of a second
    assert sound.wave["per_second"] == 20
    assert len(sound.wave["heights"]) == 80
    assert set(sound.wave["heights"]) == {27}
    assert waves.draw_missing(timezone.now()) == 0  # as the daily round calls it
    assert client.post(address, {**facts, "leader": "Without"}).status_code == 302
    assert tune.recordings.count() == 2


def test_an_upload_without_the_rights_line_keeps_its_file(db: None, django_capture_on_commit_callbacks: Any) -> None:
    """The file is chosen once, whatever else is missing; nobody else's, none that is wrong, none for longer than a day."""
    recording = factories.make_recording(factories.make_tune())
    ensemble = factories.make_ensemble()
    people = [factories.make_instructor(ensemble) for _ in range(2)]
    client, other = Client(), Client()
    client.force_login(people[0])
    other.force_login(people[1])
    address = reverse("tunes:recording-upload", args=[recording.pk])
    wrong = client.post(address, {"file": SimpleUploadedFile("a.wav", b"<html>")})
    assert (wrong.status_code, KeptFile.objects.count()) == (422, 0)
    refused = client.post(address, {"file": SimpleUploadedFile("our <i>take.mp3", tone(1)), "rights": ""})
    token = str(KeptFile.objects.get(user=people[0]).token)
    assert token in refused.content.decode()
    assert "“our &lt;i&gt;take.mp3” is kept here" in refused.content.decode()
    right = {"kept": token, "rights": "recorded by our own band", "allowed": "on"}
    for bad in ("", "no", str(uuid.uuid4())):
        assert client.post(address, right | {"kept": bad}).status_code == 422
    assert other.post(address, right).status_code == 422
    again = client.post(address, {"kept": token, "rights": "recorded by our own band"})  # still not allowed
    assert (again.status_code, KeptFile.objects.count()) == (422, 1)
    with django_capture_on_commit_callbacks(execute=True):
        kept = KeptFile.objects.get().file
        assert client.post(address, right).status_code == 302
    assert (recording.sound.original_name, recording.sound.size) == ("our <i>take.mp3", len(tone(1)))
    assert not KeptFile.objects.exists()
    assert not kept.storage.exists(kept.name)
    client.post(address, {"file": SimpleUploadedFile("b.mp3", tone(1))})
    client.post(address, {"file": SimpleUploadedFile("c.mp3", tone(1))})
    assert KeptFile.objects.get().name == "c.mp3"  # one waits, not two
    with django_capture_on_commit_callbacks(execute=True):
        assert clear_old(timezone.now() + timedelta(hours=23)) == 0
        left = KeptFile.objects.get().file
        assert clear_old(timezone.now() + timedelta(hours=25)) == 1
    assert not left.storage.exists(left.name)


# --- the form map

moments = st.lists(
    st.tuples(st.integers(1, 6), st.integers(1, 32), st.floats(0.1, 20)),
    min_size=1,
    max_size=12,
    unique_by=lambda m: m[:2],
)


def test_jumping_to_bar_17_of_the_second_chorus() -> None:
    marks = [Moment(1, 1, 10.0, "A"), Moment(2, 1, 74.0, "A"), Moment(2, 17, 106.0, "B"), Moment(3, 1, 138.0, "A")]
    times = bar_times(marks, 32)
    assert times[1][16] == 106.0
    assert times[0][16] == 42.0  # half-way between the tops
    assert times[2][31] == pytest.approx(138 + 31 * 2)
    assert place_at(times, 106.1) == (2, 17)
    assert place_at(times, 5) is None


@pytest.mark.parametrize(
    ("marks", "message"),
    [
        ([Moment(1, 1, 10), Moment(2, 1, 9)], "Chorus 2, bar 1 is marked before chorus 1, bar 1"),
        ([Moment(1, 1, 10), Moment(1, 1, 11)], "marked twice"),
        ([Moment(1, 40, 10)], "has no bar 40"),
        ([Moment(1, 1, 500)], "outside the recording"),
    ],
)
def test_maps_that_cannot_be(marks: list[Moment], message: str) -> None:
    with pytest.raises(FormMapProblem, match=re.escape(message)):
        checked(marks, 32, 100)


@given(moments)
def test_bar_lines_run_upward_and_through_every_mark(rows: list[tuple[int, int, float]]) -> None:
    clock = 0.0
    marks = []
    for chorus, bar, gap in sorted(rows, key=lambda row: row[:2]):
        clock += gap
        marks.append(Moment(chorus, bar, round(clock, 3)))
    times = bar_times(marks, 32)
    flat = [moment for chorus in times for moment in chorus]
    assert flat == sorted(flat)
    for mark in marks:
        assert times[mark.chorus - 1][mark.bar - 1] == pytest.approx(mark.seconds, abs=0.002)


def test_saving_a_map_and_what_comes_back(db: None) -> None:
    tune = factories.make_tune()
    factories.make_version(tune)
    recording = factories.make_recording(tune)
    client = Client()
    client.force_login(factories.make_instructor(factories.make_ensemble()))
    address = reverse("tunes:recording-marks", args=[recording.pk])
    rows = [{"chorus": 1, "bar": 1, "seconds": 2, "label": "A"}, {"chorus": 2, "bar": 1, "seconds": 10, "label": "A"}]
    answer = client.post(address, {"moments": json.dumps(rows)})
    assert answer.json()["times"][0] == [2.0, 4.0, 6.0, 8.0]
    assert FormMark.objects.count() == 2
    rows[1]["seconds"] = 1
    wrong = client.post(address, {"moments": json.dumps(rows)})
    assert wrong.status_code == 422
    assert "Delete one of the two marks" in wrong.json()["problem"]
    assert FormMark.objects.count() == 2
    for junk in (
        "",
        "[",
        "{}",
        "[1]",
        '[{"chorus": "x"}]',
        '[{"chorus":1,"bar":1,"seconds":1e999}]',
        "[" * 5000,
        "null",
    ):
        assert client.post(address, {"moments": junk}).status_code == 422


def test_the_form_of_a_chart_with_repeats(db: None) -> None:
    tune = factories.make_tune()
    factories.make_version(tune, "key: C major\n\nA:\n| <pickup 1> N.C. |: C | F |1. G7 :|2. C |\nB:\n| Am | Dm |")
    bars = form_bars(form_chart(tune))
    assert [bar.number for bar in bars] == list(range(1, 9))
    assert [bar.number for bar in bars if bar.opens] == [1, 4, 7]
    assert [bar.label for bar in bars] == ["A"] * 6 + ["B"] * 2


# --- the log


def test_the_log_is_evidence(db: None, django_assert_num_queries: Any) -> None:
    tune = factories.make_tune()
    one, two = factories.make_recording(tune, is_reference=True), factories.make_recording(tune)
    ensemble = factories.make_ensemble()
    player, other = factories.make_player(ensemble), factories.make_player(ensemble)
    now = timezone.now()
    for recording, seconds in ((one, 60), (one, 30), (two, 0)):
        Listening.objects.create(player=player, recording=recording, heard_on=now, seconds=seconds, noticed="x")
    with django_assert_num_queries(1):
        evidence = listening_evidence([player.pk, other.pk], [tune.pk])
    assert set(evidence) == {(player.pk, tune.pk)}
    heard = evidence[player.pk, tune.pk]
    assert (heard.times, heard.recordings, heard.reference, heard.seconds) == (3, 2, True, 90)


def test_ear_exercises_are_evidence(db: None, django_assert_num_queries: Any) -> None:
    tune = factories.make_tune()
    player = factories.make_player(factories.make_ensemble())
    for score in (0.5, 0.9, 0.7):
        EarResult.objects.create(player=player, tune=tune, kind=EarResult.Kind.TOP_OF_FORM, score=score)
    with django_assert_num_queries(1):
        standing = ear_evidence([player], [tune])[player.pk, tune.pk]
    assert (standing["top-of-form"].times, standing["top-of-form"].best) == (3, 0.9)
    assert set(standing) == {"top-of-form"}


def test_an_instructor_sees_the_players_they_lead_and_nobody_else(db: None) -> None:
    tune = factories.make_tune()
    recording = factories.make_recording(tune)
    ensemble = factories.make_ensemble()
    mine = factories.make_player(ensemble, "Mine Own")
    foreign = factories.make_player(factories.make_ensemble(), "Foreign Player")
    for player in (mine, foreign):
        Listening.objects.create(player=player, recording=recording, heard_on=timezone.now(), noticed=f"by {player}")
    client = Client()
    client.force_login(factories.make_instructor(ensemble))
    page = client.get(reverse("tunes:heard-by", args=[tune.pk])).content
    assert b"by Mine Own" in page
    assert b"Foreign Player" not in page


def test_an_entry_from_the_future_is_refused(kept: RecordingFile, listener: Client) -> None:
    address = reverse("tunes:recording-heard", args=[kept.recording_id])
    later = (timezone.localtime() + timezone.timedelta(days=1)).strftime("%Y-%m-%dT%H:%M")
    answer = listener.post(address, {"heard_on": later, "noticed": "typed with care"})
    assert answer.status_code == 422
    assert b"still to come" in answer.content
    assert b"typed with care" in answer.content


def test_nobody_sees_another_log(kept: RecordingFile, listener: Client) -> None:
    other = factories.make_player(factories.make_ensemble())
    Listening.objects.create(player=other, recording=kept.recording, heard_on=timezone.now(), noticed="private thought")
    for address in (reverse("tunes:listening-log"), reverse("tunes:recording", args=[kept.recording_id])):
        assert b"private thought" not in listener.get(address).content


def test_the_caution_is_shown_once(db: None) -> None:
    user = factories.make_user()
    assert caution_due(user, "hearing")
    caution_seen(user=user, name="hearing")
    caution_seen(user=user, name="hearing")
    assert not caution_due(user, "hearing")


def test_only_the_first_line_of_the_words_is_kept() -> None:
    assert LyricForm({"first_line": "a short  line", "link": ""}).is_valid()
    form = LyricForm({"first_line": " ".join(["word"] * 17), "link": ""})
    assert not form.is_valid()
    assert "at most sixteen words" in str(form.errors)


@pytest.mark.parametrize("route", ["tunes:recordings", "tunes:melody-map", "tunes:heard-by"])
def test_queries_do_not_grow(db: None, route: str) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counts = []
    for many in (2, 30):
        tune = factories.make_tune()
        factories.make_version(tune)
        ensemble = factories.make_ensemble()
        players = [factories.make_player(ensemble) for _n in range(many)]
        for _n in range(many):
            recording = factories.make_recording(tune)
            for player in players[:3]:
                Listening.objects.create(player=player, recording=recording, heard_on=timezone.now(), noticed="x")
        client = Client()
        client.force_login(factories.make_instructor(ensemble))
        with CaptureQueriesContext(
            connection,
        ) as caught:
            assert client.get(reverse(route, args=[tune.pk])).status_code == 200
        counts.append(len(caught))
    assert counts[0] == counts[1]
    assert counts[1] <= 15
