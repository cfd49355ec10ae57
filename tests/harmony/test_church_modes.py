"""Church modes as keys: read, written, moved, used as the home that was typed.

Signatures: MusicXML 4.0, `key` with `mode` (W3C, 2021): each mode is the white notes from its final. Scales of modal
keys: Miller, *Modal Jazz Composition & Harmony* (1996).
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drills.comparers.key_areas import read_areas
from tests.bench.answers import mark
from tunes.forms import read_key
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.answers.reader import read_answer
from tunes.harmony.charts import parse_chart, transpose_chart, write_chart
from tunes.harmony.pitch.spelling import CHURCH_MODES, Interval, Key, NoteName, sensible
from tunes.harmony.scales.scales import scale_for
from tunes.interchange import import_lead_sheet, write_musicxml

WHITE = (
    ("D dorian", "minor"),
    ("E phrygian", "minor"),
    ("F lydian", "major"),
    ("G mixolydian", "major"),
    ("B locrian", "minor"),
)


@pytest.mark.parametrize(("text", "third"), WHITE)
def test_the_white_notes_from_each_final(text: str, third: str) -> None:
    key = Key.parse(text)
    assert (key.text, key.mode, key.fifths) == (text, third, 0)
    assert key.relative in (Key.parse("C"), Key.parse("A minor"))
    assert Key.of_signature(0, key.word) == key


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("D Dorian", "D dorian"),
        ("d dor", "D dorian"),
        ("Bb mixo", "Bb mixolydian"),
        ("F♯ phryg", "F# phrygian"),
        ("C ionian", "C major"),
        ("A aeolian", "A minor"),
        ("Eb lyd", "Eb lydian"),
    ],
)
def test_how_modes_are_typed(typed: str, read: str) -> None:
    assert Key.parse(typed).text == read
    assert read_key(typed) == read


@given(st.sampled_from([Key.parse(text) for text, _ in WHITE]), st.integers(-5, 6))
def test_a_mode_moves_as_its_signature_does(key: Key, fifths: int) -> None:
    move = NoteName("C").interval_to(NoteName.from_fifths(fifths))
    moved = key.transposed(move)
    assert (moved.word, moved.fifths) == (key.word, fifths)
    assert Key.parse(moved.text) == moved
    assert sensible(moved).word == key.word


CHARTS = (
    ("key: D dorian\n| Dm7 | G7 | Fmaj7 | G7 | Cmaj7 Em7 | Am7 | Dm7 | Dm7 |", "CDEFGAB"),
    ("key: G mixolydian\n| G | Fmaj7 | C | G | Dm7 | Fmaj7 | G | G |", "CDEFGAB"),
    ("key: E phrygian\n| Em7 | Fmaj7 | Dm7 | Em7 | Am7 | G | Fmaj7 | Em7 |", "CDEFGAB"),
    ("key: F lydian\n| Fmaj7 | G | Am7 | Em7 | Fmaj7 | G | Cmaj7 | Fmaj7 |", "CDEFGAB"),
)  # fmt: skip


@pytest.mark.parametrize(("text", "notes"), CHARTS)
@pytest.mark.parametrize("up", ["P1", "m3", "P5"])
def test_the_mode_that_was_typed_is_home_and_its_notes_are_the_scales(text: str, notes: str, up: str) -> None:
    chart = parse_chart(text).chart
    assert chart is not None
    move = Interval.parse(up)
    moved = transpose_chart(chart, move)
    analysis = analyse(moved)
    assert analysis.home == moved.key
    assert {area.key for area in analysis.areas} == {moved.key}
    white = {(NoteName(letter) + move).pc for letter in notes}
    for event, reading in zip(moved.events(), analysis.readings, strict=True):
        assert reading.key == moved.key
        assert event.symbol is not None
        assert {note.pc for note in scale_for(event.symbol, reading).notes} <= white


def test_a_chart_in_a_mode_is_written_and_exported_as_one() -> None:
    chart = parse_chart(CHARTS[0][0]).chart
    assert chart is not None
    assert "key: D dorian" in write_chart(chart)
    xml = write_musicxml(chart)
    assert b"<mode>dorian</mode>" in xml
    assert "key: D dorian" in import_lead_sheet(xml).text


def test_a_mode_in_front_of_an_answer_and_in_areas() -> None:
    assert read_answer("D dorian: IV7").key == Key.parse("D dorian")
    assert "D dorian" in read_answer("D dorian: IV7").echo
    areas = read_areas("1 D dorian, 9 Eb dorian")
    assert [area.key.text for area in areas] == ["D dorian", "Eb dorian"]
    assert mark(CHARTS[0][0], 2, 1, "D dorian: IV7") == 1
    assert mark(CHARTS[0][0], 2, 1, "IV7") == 1


def test_every_mode_has_its_third() -> None:
    assert {mode for mode, third in CHURCH_MODES.items() if third == "minor"} == {"dorian", "phrygian", "locrian"}
