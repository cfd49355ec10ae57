"""Changes by ear: how a bar is read, how a sheet is marked, that nothing typed is ever lost."""

from __future__ import annotations

import threading
from fractions import Fraction
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from tests import factories
from tunes.by_ear import services
from tunes.by_ear.compare import compare_sheet
from tunes.by_ear.reading import BarReading, heard_chart, read_bar, read_bass, read_chords
from tunes.by_ear.selectors import heard_by_others, readings
from tunes.harmony.charts import Metre, parse_chart
from tunes.models import ByEarSheet, EarResult
from tunes.study import study_of_text

FOUR = Metre(4, 4)
CHART = "key: C major\n\nA:\n| Cmaj7 | Dm7 G7 | C6 | N.C. |"


@pytest.mark.parametrize(
    ("text", "echo"),
    [("Dm7 G7", "Dm7  G7"), ("C / / F7", "C  F7"), ("nc", "N.C."), ("Bb-7 Eb7", "Bbm7  Eb7"), ("C@1 G7@2.5", "C  G7")],
)
def test_chords_are_echoed_as_understood(text: str, echo: str) -> None:
    assert read_chords(text, FOUR).echo == echo
    assert read_chords(text, FOUR).problem == ""


@pytest.mark.parametrize(
    ("text", "problem"),
    [("C | F", "no bar lines"), ("%", "every bar is heard for itself"), ("H7", "H"), ("C F G", "share 4 beats")],
)
def test_what_cannot_be_read_says_what_to_type(text: str, problem: str) -> None:
    assert problem in read_chords(text, FOUR).problem


def test_bass_notes_spread_evenly() -> None:
    reading = read_bass("bb, G", FOUR)
    assert [(s.start, s.bass.text if s.bass else "") for s in reading.soundings] == [
        (Fraction(0), "Bb"),
        (Fraction(2), "G"),
    ]
    assert read_bass("x", FOUR).problem == "“x” is not a note. Type C, Bb or F#."
    assert read_bar("C", "Dm7", FOUR).echo == "Dm7"  # the chord says more
    assert read_bar("C", " ", FOUR).echo == "C"


@given(st.text(max_size=40), st.text(max_size=40))
def test_any_text_is_read_or_answered(bass: str, chords: str) -> None:
    reading = read_bar(bass, chords, FOUR)
    assert all(0 <= s.start < 4 for s in reading.soundings)


def sheet(**bars: str) -> Any:
    """Compare what was heard, `b0="Cmaj7"`, with CHART; a lower-case note alone is a bass note."""
    study = study_of_text(CHART)
    heard = {}
    for name, text in bars.items():
        bass = text if text.islower() and len(text) == 1 else ""
        heard[int(name[1:])] = read_bar(bass, "" if bass else text, FOUR)
    return compare_sheet(study, heard)


@pytest.mark.parametrize(
    ("heard", "relation", "stands"),
    [
        # Facts about shared notes; what a band may play is common practice, no source.
        ("Dm7 G7", "same", "same"),
        ("Dm7 G13", "same", "same"),
        ("Dm7 Db7", "tritone-substitute", "plausible"),
        ("Dm7 G7sus4", "suspension", "same"),
        ("Dm7 Bdim7", "rootless-dominant", "plausible"),
        ("Dm7 Gm7", "other-quality", "other"),
        ("Dm7 F#maj7", "contradicts", "against"),
    ],
)
def test_the_second_chord_of_bar_2(heard: str, relation: str, stands: str) -> None:
    verdict = sheet(b1=heard).bars[1].verdicts[1]
    assert verdict.comparison.relation.id == relation
    assert verdict.stands == stands


def test_a_whole_sheet() -> None:
    perfect = sheet(b0="Cmaj7", b1="Dm7 G7", b2="C6", b3="N.C.")
    assert perfect.score == 1
    assert (perfect.roots, perfect.qualities, perfect.functions, perfect.asked) == (4, 4, 4, 5)
    empty = compare_sheet(study_of_text(CHART), {})
    assert (empty.score, empty.filled, empty.asked) == (0, 0, 5)
    half = sheet(b0="Cmaj7")
    assert half.score == pytest.approx(4 / 16)
    bass = sheet(b0="c").bars[0].verdicts[0]
    assert (bass.stands, bass.credit) == ("partly", 0.5)


def test_a_chord_against_none_and_none_against_a_chord() -> None:
    result = sheet(b3="C7", b0="N.C.")
    assert result.bars[3].verdicts[0].stands == "against"
    assert result.bars[0].verdicts[0].credit == 0


def test_a_chord_put_in_between_is_named() -> None:
    extra = sheet(b0="Cmaj7 C#dim7").bars[0].extras[0]
    assert extra.heard.text == "C#dim7"
    assert extra.within is not None
    assert extra.within.text == "Cmaj7"


def test_the_engine_is_asked_about_what_was_heard() -> None:
    verdict = sheet(b1="Dm7 Db7").bars[1].verdicts[1]
    assert verdict.engine.endswith("in C major")
    assert sheet(b0="c").bars[0].verdicts[0].engine == ""  # a bare bass note is no chord to name


def test_foreign_notes_are_spelled() -> None:
    verdict = sheet(b1="Dm7 F#maj7").bars[1].verdicts[1]
    assert [note.text for note in verdict.foreign] == ["F#", "A#", "C#", "E#"] or verdict.foreign


def test_the_heard_chart_keeps_what_was_not_heard() -> None:
    chart = parse_chart(CHART).chart
    assert chart is not None
    heard = heard_chart(chart, {1: read_chords("Dm7 Db7", FOUR), 2: BarReading(), 0: read_bass("E", FOUR)})
    assert [slot.text for bar in heard.bars for slot in bar.slots] == ["Cmaj7", "Dm7", "Db7", "C6", "N.C."]


# --- keeping


@pytest.fixture
def kept(db: None) -> ByEarSheet:
    revision = factories.make_version(factories.make_tune(), CHART)
    player = factories.make_player(factories.make_ensemble())
    return services.start_sheet(user=player, revision=revision, recording=None, way="bass")


def client_of(kept: ByEarSheet) -> Client:
    client = Client()
    client.force_login(kept.user)
    return client


def test_every_field_saves_itself_and_undo_takes_back(kept: ByEarSheet) -> None:
    client, save, undo = (
        client_of(kept),
        reverse("tunes:by-ear-save", args=[kept.pk]),
        reverse("tunes:by-ear-undo", args=[kept.pk]),
    )
    said = client.post(save, {"bar": 1, "field": "chords", "text": "Dm7 Db7"}).json()
    assert said["echo"] == "Dm7  Db7"
    assert ":" in said["saved"]
    client.post(save, {"bar": 1, "field": "chords", "text": "Dm7 G7"})
    client.post(save, {"bar": 1, "field": "chords", "text": "Dm7 G7"})  # sent twice: one step
    assert kept.edits.count() == 2
    back = client.post(undo).json()
    assert (back["bar"], back["field"], back["text"], back["more"]) == (1, "chords", "Dm7 Db7", True)
    assert kept.bars.get().chords == "Dm7 Db7"
    client.post(undo)
    assert client.post(undo).json() == {"done": False, "more": False}


def test_what_cannot_be_read_is_kept_all_the_same(kept: ByEarSheet) -> None:
    said = (
        client_of(kept)
        .post(reverse("tunes:by-ear-save", args=[kept.pk]), {"bar": 0, "field": "chords", "text": "H??"})
        .json()
    )
    assert said["problem"]
    assert kept.bars.get().chords == "H??"
    page = client_of(kept).get(reverse("tunes:by-ear", args=[kept.pk]))
    assert b"H??" in page.content


@pytest.mark.parametrize(
    "sent",
    [
        {},
        {"bar": "x", "field": "chords"},
        {"bar": "99", "field": "chords"},
        {"bar": "0", "field": "user_id"},
        {"bar": "-1", "field": "bass"},
    ],
)
def test_what_is_no_field_is_refused(kept: ByEarSheet, sent: dict[str, str]) -> None:
    assert client_of(kept).post(reverse("tunes:by-ear-save", args=[kept.pk]), sent).status_code == 422
    assert not kept.bars.exists()


def test_the_chart_is_hidden_until_compared(kept: ByEarSheet) -> None:
    client, compare = client_of(kept), reverse("tunes:by-ear-compare", args=[kept.pk])
    assert client.get(compare).status_code == 302
    assert b"Dm7" not in client.get(reverse("tunes:by-ear", args=[kept.pk])).content
    services.save_field(sheet=kept, bar=0, field="chords", text="Cmaj7")
    assert client.post(compare).status_code == 302
    page = client.get(compare)
    assert page.status_code == 200
    result = EarResult.objects.get()
    assert (result.kind, result.score, result.player) == ("by-ear", 0.25, kept.user)
    assert result.detail["sheet"] == kept.pk


def test_a_sheet_is_its_owners_alone(kept: ByEarSheet) -> None:
    other = Client()
    other.force_login(factories.make_instructor(factories.make_ensemble()))
    for name in ("by-ear", "by-ear-compare"):
        assert other.get(reverse(f"tunes:{name}", args=[kept.pk])).status_code == 404


def test_shared_sheets_are_counted_without_names(kept: ByEarSheet) -> None:
    services.save_field(sheet=kept, bar=1, field="chords", text="Dm7  Db7")
    assert heard_by_others(kept.revision) == {}
    services.set_shared(sheet=kept, shared=True)
    assert heard_by_others(kept.revision) == {1: [("Dm7 Db7", 1)]}


def test_rows_beyond_the_chart_do_no_harm(kept: ByEarSheet) -> None:
    kept.bars.create(bar=77, chords="C")
    chart = parse_chart(CHART).chart
    assert chart is not None
    assert readings(chart, list(kept.bars.all())) == {}
    assert client_of(kept).get(reverse("tunes:by-ear", args=[kept.pk])).status_code == 200


@pytest.mark.concurrency
@pytest.mark.django_db(transaction=True)
def test_two_windows_at_once_lose_nothing() -> None:
    """Two windows fill one sheet at the same time; every field is there, and undo takes back exactly that many steps."""
    revision = factories.make_version(factories.make_tune(), "key: C major\n| " + " | ".join(["C"] * 24) + " |")
    player = factories.make_player(factories.make_ensemble())
    kept = services.start_sheet(user=player, revision=revision, recording=None, way="bass")

    def window(number: int) -> None:
        try:
            for bar in range(24):
                if bar % 2 == number:
                    services.save_field(sheet=kept, bar=bar, field="chords", text=f"C{bar}")
                services.save_field(sheet=kept, bar=bar, field="bass" if number else "chords", text=f"{number} {bar}")
        finally:
            connection.close()

    threads = [threading.Thread(target=window, args=(number,)) for number in (0, 1)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    rows = {row.bar: row for row in kept.bars.all()}
    assert len(rows) == 24
    assert all(row.bass == f"1 {bar}" for bar, row in rows.items())
    assert all(rows[bar].chords == f"0 {bar}" for bar in range(0, 24, 2))
    steps = kept.edits.count()
    taken = 0
    while services.undo(sheet=kept):
        taken += 1
    assert taken == steps
    assert all(not row.bass and not row.chords for row in kept.bars.all())
