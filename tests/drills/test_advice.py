"""Advice on a take: heard in the background, shown, contested, written down. A take is rendered, kept as a file, and what
the site says of it is what was planted."""

from __future__ import annotations

import io
import uuid
import wave
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from drills.advice import services
from drills.advice.models import TakeAdvice
from drills.advice.page import NOT_INSTALLED, advice_of
from drills.advice.writing import laid, placed, write_down
from drills.hearing.extra import available
from drills.hearing.judge import LEAK
from drills.models import Take
from drills.takes import services as takes
from drills.takes.making import plan_named
from studio.instruments import CONCERT
from studio.models import Job
from tests import factories
from tests import tones as t
from tunes.models import SoloDraft
from tunes.solos.bars import Covers, solo_form
from tunes.study import study_chart

installed = pytest.mark.skipif(not available(), reason="the extra of requirements-hearing.txt is not installed")
CHART = "key: F\n| Gm7 | C7 | Fmaj7 | D7b9 |\n| Gm7 | C7 | F6 | F6 |"
BEGINS, TEMPO = 2.0, 120


def wav(sound: np.ndarray) -> SimpleUploadedFile:
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(t.RATE)
        file.writeframes((np.clip(sound, -1, 1) * 32000).astype("<i2").tobytes())
    return SimpleUploadedFile("take.wav", out.getvalue())


def kept(player: Any, kind: str, tones: Any = None, query: str = "", **about: Any) -> Take:
    """A take of a chart's drill or solo; `tones` makes what sounds from the notes that were asked."""
    revision = factories.make_version(factories.make_tune(f"Heard {uuid.uuid4().hex[:6]}"), text=CHART)
    plan = plan_named(player, kind=kind, revision=revision.pk, line=None, query=query, tempo=TEMPO)
    notes = [(BEGINS + start * 60 / TEMPO, length * 60 / TEMPO, midi) for start, length, midi in plan.played["notes"]]
    rng = np.random.default_rng(3)
    made = [t.Tone(start, 0.9 * length, midi) for start, length, midi in notes]
    sound = t.take(
        tones(made), lambda length, midi: t.tone(t.KINDS["saxophone"], length, midi, rng), rng=rng, noise_db=-65
    )
    circumstances = takes.Circumstances(tempo=TEMPO, starts_at=BEGINS, **about)
    return takes.keep_take(
        player=player, plan=plan, heard=takes.looked_at(wav(sound)), about=circumstances, token=uuid.uuid4()
    )


def planted(tones: list[t.Tone]) -> list[t.Tone]:
    """The 3rd note another one, the 6th missing, the 9th late, the 12th flat."""
    found = []
    for at, tone in enumerate(tones):
        if at == 2:
            tone = t.Tone(tone.start, tone.length, tone.midi + 1)
        if at == 8:
            tone = t.Tone(tone.start + 0.16, tone.length - 0.16, tone.midi)
        if at == 11:
            tone = t.Tone(tone.start, tone.length, tone.midi - 0.3)
        if at != 5:
            found.append(tone)
    return found


@installed
@pytest.mark.django_db
def test_a_take_is_heard_shown_and_contested(client: Client, django_assert_max_num_queries: Any) -> None:
    player = factories.make_user("Noor", instrument="tenor-sax")
    take = kept(player, "drill", planted, "kind=arpeggios&value=crotchets")
    services.ask(take)
    assert services.ask(take) == TakeAdvice.objects.get(take=take), "asked twice it is heard once"
    assert Job.objects.filter(kind=services.KIND).count() == 1
    advice = advice_of(take)
    assert advice["state"] == "heard", advice["reason"]
    said = {mark["index"]: mark["kind"] for mark in advice["marks"]}
    assert said == {2: "another", 5: "not-heard", 8: "late", 11: "flat"}
    client.force_login(player)
    with django_assert_max_num_queries(15):
        page = client.get(reverse("drills:take", args=[take.pk])).content.decode()
    assert advice["marks"][0]["words"].endswith(", a half step high")
    assert "Advice from a machine, which mishears." in page
    assert advice["marks"][0]["words"] in page
    assert page.count('data-note="2"') == 2, "the heads on the staff can be found, on a desk and on a phone"
    contest = reverse("drills:take-contest", args=[take.pk])
    client.post(contest, {"note": "1:2"})
    after = advice_of(take)
    assert [mark["contested"] for mark in after["marks"]] == [True, False, False, False]
    assert after["counted"] == advice["counted"] - 1
    client.post(contest, {"note": "1:2", "back": "1"})
    assert advice_of(take)["counted"] == advice["counted"]
    assert client.post(contest, {"note": "9:999"}).status_code == 409
    assert client.post(reverse("drills:take-advice-again", args=[take.pk])).status_code == 302
    assert {mark["index"]: mark["kind"] for mark in advice_of(take)["marks"]} == said, "heard again it is the same"


@installed
@pytest.mark.django_db
def test_a_solo_is_written_down_with_its_doubtful_notes_as_guesses() -> None:
    player = factories.make_user("Noor", instrument="flute")
    melody = [
        (0.0, 0.5, 70),
        (0.5, 0.5, 69),
        (1.0, 1.0, 67),
        (4.0, 1.0, 64),
        (6.0, 0.5, 70),
        (6.5, 0.5, 72),
        (8.0, 2.0, 69),
    ]
    tones = [t.Tone(BEGINS + at * 60 / TEMPO, 0.85 * length * 60 / TEMPO, midi) for at, length, midi in melody]
    take = kept(player, "chorus", lambda _notes: tones)
    services.ask(take)
    advice = advice_of(take)
    assert advice["solo"]["notes"] == len(melody)
    assert advice["solo"]["begins"] == "It begins on the top of the form."
    solo, _ = write_down(take)
    notes = [row for row in SoloDraft.objects.get(solo=solo).notes["notes"] if "pitch" in row]
    assert [(row["bar"], row["at"], row["pitch"]) for row in notes if not row.get("tie")][:3] == [
        (1, "0", "Bb4"), (1, "1/2", "A4"), (1, "1", "G4")
    ]  # fmt: skip
    assert solo.written_by == player


@pytest.mark.django_db
def test_doubtful_notes_are_guesses_and_bars_are_taps() -> None:
    """Twelve bars of four at 120: a note at 4.02 s lies on the third beat of bar 2 (2 s before the first bar)."""
    form = solo_form(study_chart(factories.make_version(text=CHART)), Covers(1, 1, 1, 8), CONCERT)
    take = Take(
        tempo=120, starts_at=2.0, choruses=1,
        played={"version": 1, "bars": [[n + 1, 4.0 * n, 4.0, 4, 4] for n in range(8)], "notes": []},
    )  # fmt: skip
    rows = [[2.01, 0.45, 67, 0, 0.99, True], [5.02, 0.45, 70, 0, 0.4, False], [5.51, 0.45, 69, 0, 0.99, True]]
    found = placed(take, rows)
    assert [(note.onset, sure) for note, sure in found] == [
        (Fraction(0), True),
        (Fraction(6), False),
        (Fraction(7), True),
    ]
    bars, _ = laid(found, form)
    entries = [entry for bar in bars for entry in bar if entry.pitch]
    assert [(entry.pitch.text, entry.guess) for entry in entries if entry.pitch] == [
        ("G4", False), ("Bb4", True), ("A4", False)
    ]  # fmt: skip


@installed
@pytest.mark.django_db
def test_it_declines_with_the_band_in_the_microphone_and_with_a_file_that_is_cut(client: Client) -> None:
    player = factories.make_user("Noor", instrument="tenor-sax")
    take = kept(player, "drill", lambda notes: notes[:4], "kind=arpeggios&value=crotchets", leak=-20.0)
    services.ask(take)
    assert (advice_of(take)["state"], advice_of(take)["reason"]) == ("declined", LEAK)
    client.force_login(player)
    assert LEAK in client.get(reverse("drills:take-advice", args=[take.pk])).content.decode()
    Take.objects.filter(pk=take.pk).update(leak=None)
    with open(take.file.path, "wb") as file:
        file.write(b"RIFF\x00\x00")
    take.refresh_from_db()
    services.ask(take, again=True)
    assert advice_of(take)["reason"] == services.DAMAGED


@pytest.mark.django_db
def test_a_site_without_the_extra_keeps_takes_and_says_so(monkeypatch: pytest.MonkeyPatch, client: Client) -> None:
    for module in ("drills.advice.services", "drills.advice.page"):
        monkeypatch.setattr(f"{module}.available", lambda: False)
    player = factories.make_user("Noor", instrument="tenor-sax")
    take = kept(player, "drill", lambda notes: notes[:2], "kind=guide-tones")
    assert services.ask(take) is None
    client.force_login(player)
    assert NOT_INSTALLED in client.get(reverse("drills:take", args=[take.pk])).content.decode()
