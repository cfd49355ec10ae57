"""Lead sheets on the site: preview before anything is kept, a draft afterwards, export, the melody of a version."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from tests import factories
from tests.tunes import musicxml_schema
from tests.tunes.real_scores import HOME
from tests.tunes.test_interchange_hostile import HOSTILE, entity_bomb
from tunes.access import _HOLDS, Hold, hold_from_players
from tunes.harmony.charts import parse_chart
from tunes.harmony.pitch.spelling import Pitch
from tunes.interchange import Extras, MelodyNote, import_lead_sheet, write_musicxml
from tunes.interchange import Melody as NotedMelody
from tunes.lead_sheets.selectors import melody_by_event, melody_of
from tunes.models import ChartDraft, Melody, Tune

CHART = "key: C major\n\nA:\n| Cmaj7 | Dm7 G7 | C6 |"
RIGHT = {"rights": "written by our own class", "allowed": "on"}


@pytest.fixture
def leader(db: None) -> Client:
    client = Client()
    client.force_login(factories.make_instructor(factories.make_ensemble()))
    return client


def file(data: bytes, name: str = "sheet.musicxml") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, data)


def noted(*notes: tuple[int, int, str], text: str = CHART) -> bytes:
    """A notation over a chart: (bar index, beat, pitch) a beat long each."""
    chart = parse_chart(text).chart
    assert chart is not None
    from fractions import Fraction

    melody = NotedMelody(
        tuple(MelodyNote(bar, Fraction(beat), Fraction(1), Pitch.parse(pitch)) for bar, beat, pitch in notes)
    )
    return write_musicxml(chart, Extras(melody=melody))


def test_a_real_lead_sheet_becomes_a_draft(leader: Client) -> None:
    data = sorted((HOME / "corpus" / "leadSheet").glob("*.mxl"))[0].read_bytes()
    page = leader.post(reverse("tunes:lead-sheet-import"), {"file": file(data, "x.mxl")})
    assert page.status_code == 200
    assert not Tune.objects.exists()  # nothing is kept by looking
    assert b"What was lost" in page.content
    text = page.context["reading"].text
    sent = {"text": text, "title": "Own title", "composer": "Somebody", "tune": ""}
    done = leader.post(reverse("tunes:lead-sheet-keep"), sent)
    tune = Tune.objects.get()
    assert done.url == reverse("tunes:chart_new", args=[tune.pk])
    assert parse_chart(ChartDraft.objects.get().text).chart == parse_chart(text).chart
    editor = leader.get(done.url)
    assert "C7" in editor.content.decode()


def test_a_tune_that_is_there_gets_another_version(leader: Client) -> None:
    tune = factories.make_tune("Known", composer="Somebody")
    sent = {"text": CHART, "title": "known", "composer": "somebody", "tune": ""}
    refused = leader.post(reverse("tunes:lead-sheet-keep"), sent)
    assert refused.status_code == 422
    assert b"The repertoire has this tune already" in refused.content
    assert b"Dm7 G7" in refused.content
    assert leader.post(reverse("tunes:lead-sheet-keep"), sent | {"tune": tune.pk}).status_code == 302
    assert (
        leader.post(reverse("tunes:lead-sheet-keep"), sent | {"tune": tune.pk}).status_code == 302
    )  # twice: one draft
    assert ChartDraft.objects.get().tune == tune


@pytest.mark.parametrize(
    "name",
    [
        "entity bomb",
        "zip bomb, honest about its size",
        "SVG with a script",
        "archive cut short",
        "PDF",
        "nothing at all",
    ],
)
def test_hostile_uploads_come_back_with_a_line(leader: Client, name: str) -> None:
    answer = leader.post(reverse("tunes:lead-sheet-import"), {"file": file(HOSTILE[name][0](), "x.musicxml")})
    assert answer.status_code == 422
    assert b"field__error" in answer.content


def test_a_text_that_is_no_chart_is_not_kept(leader: Client) -> None:
    sent = {"text": "", "title": "T", "composer": "", "tune": ""}
    assert leader.post(reverse("tunes:lead-sheet-keep"), sent).status_code == 422
    assert not Tune.objects.exists()


def test_export_is_valid_and_comes_back(leader: Client) -> None:
    revision = factories.make_version(factories.make_tune("Tune & <Co>"), CHART)
    answer = leader.get(reverse("tunes:export-musicxml", args=[revision.pk]), {"analysis": "yes"})
    assert musicxml_schema.faults(answer.content) == []
    assert 'filename="tune-co-' in answer.headers["Content-Disposition"]
    assert import_lead_sheet(answer.content).title == "Tune & <Co>"
    assert len(ET.fromstring(answer.content).findall(".//numeral")) == 4
    text = leader.get(reverse("tunes:export-text", args=[revision.pk]))
    assert "| Cmaj7 | Dm7 G7 | C6 |" in text.content.decode()
    assert text.headers["Content-Type"] == "text/plain; charset=utf-8"


def test_an_analysis_held_back_stays_back(db: None) -> None:
    revision = factories.make_version(factories.make_tune(), CHART)
    client = Client()
    client.force_login(factories.make_player(factories.make_ensemble()))
    test = hold_from_players(lambda user, ids: {revision.version.tune_id: Hold("held")})
    try:
        for name in ("export-musicxml", "export-text"):
            address = reverse(f"tunes:{name}", args=[revision.pk])
            assert client.get(address, {"analysis": "yes"}).status_code == 403
            assert client.get(address).status_code == 200
            assert b"numeral" not in client.get(address).content
    finally:
        _HOLDS.remove(test)


def test_a_melody_is_kept_and_read_by_chord(leader: Client) -> None:
    revision = factories.make_version(factories.make_tune(), CHART)
    address = reverse("tunes:melody-import", args=[revision.version.tune_id])
    data = noted((0, 0, "E5"), (1, 1, "F5"), (1, 2, "B4"))
    sent = {"version": revision.version_id} | RIGHT
    assert leader.post(address, sent | {"file": file(data)}).status_code == 302
    melody = melody_of(revision)
    assert melody is not None
    assert len(melody.notes) == 3
    assert {event: [p.text for p in pitches] for event, pitches in melody_by_event(revision).items()} == {
        0: ["E5"], 1: ["F5"], 2: ["B4"],
    }  # fmt: skip
    # It goes out again with the chart.
    out = leader.get(reverse("tunes:export-musicxml", args=[revision.pk])).content
    assert [n.pitch.text for n in import_lead_sheet(out).melody.notes] == ["E5", "F5", "B4"]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"allowed": ""}, "Without that right"),
        ({"rights": "mine"}, "at least 10"),
        ({"file": entity_bomb}, "defines entities"),
        ({"file": lambda: noted((0, 0, "E5"), text=CHART.replace("| C6 |", "| C6 | F |"))}, "4 bars and the chart 3"),
        (
            {
                "file": lambda: noted(
                    (0, 0, "E5"),
                    text=CHART.replace("key: C major", "key: C major\nmetre: 3/4").replace("Dm7 G7", "Dm7"),
                )
            },
            "is in 4/4",
        ),
        ({"file": lambda: noted()}, "no notes"),
    ],
)
def test_a_melody_that_may_not_or_cannot_be_kept(leader: Client, change: dict[str, Any], message: str) -> None:
    revision = factories.make_version(factories.make_tune(), CHART)
    sent: dict[str, Any] = {"version": revision.version_id, "file": lambda: noted((0, 0, "E5"))} | RIGHT | change
    sent["file"] = file(sent["file"]())
    answer = leader.post(reverse("tunes:melody-import", args=[revision.version.tune_id]), sent)
    assert answer.status_code == 422
    assert message in answer.content.decode()
    assert not Melody.objects.exists()


def test_a_melody_survives_a_shorter_revision(leader: Client) -> None:
    from tunes.services.charts import save_revision

    revision = factories.make_version(factories.make_tune(), CHART)
    sent = {"version": revision.version_id, "file": file(noted((0, 0, "E5"), (2, 0, "C5")))} | RIGHT
    leader.post(reverse("tunes:melody-import", args=[revision.version.tune_id]), sent)
    shorter = save_revision(version=revision.version, text=CHART.replace(" C6 |", ""), by=None)
    melody = melody_of(shorter)
    assert melody is not None
    assert [note.pitch.text for note in melody.notes] == ["E5"]
