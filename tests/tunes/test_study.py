"""The study of a chart: the same piece in every key and for every instrument."""

from __future__ import annotations

import re

import pytest

from studio.instruments import INSTRUMENTS, Instrument
from tunes.harmony.explain.sentences import told
from tunes.harmony.pitch.spelling import MAJOR_KEYS, Key
from tunes.study import ChartUnreadable, StudyChart, study_of_text

CHART = "key: Eb major\n\nA:\n| Ebmaj7 | Cm7b5 F7 | Fm7 Bb7b9 | Eb6/G |"


def chords(study) -> list[str]:  # type: ignore[no-untyped-def]
    return [event.symbol.text for event in study.events]


@pytest.mark.parametrize("key", MAJOR_KEYS, ids=lambda key: key.text)
def test_functions_are_the_same_in_every_key(key: Key) -> None:
    study = study_of_text(CHART)
    moved = study.transposed(key)
    assert moved.key.tonic == key.tonic
    assert [r.function for r in moved.analysis.readings] == [r.function for r in study.analysis.readings]
    assert moved.analysis.landing == study.analysis.landing
    degrees = [(moved.key.degree_of(e.symbol.root), e.symbol.kind) for e in moved.events]
    assert degrees == [(study.key.degree_of(e.symbol.root), e.symbol.kind) for e in study.events]


# Written keys by the published transpositions of the instruments (the `transpose` values of MusicXML).
@pytest.mark.parametrize(
    ("instrument", "key", "first"),
    [
        ("piano", "Eb major", "Ebmaj7"),
        ("trumpet", "F major", "Fmaj7"),
        ("tenor-sax", "F major", "Fmaj7"),
        ("alto-sax", "C major", "Cmaj7"),
        ("baritone-sax", "C major", "Cmaj7"),
        ("bass", "Eb major", "Ebmaj7"),
    ],
)
def test_written_pitch(instrument: str, key: str, first: str) -> None:
    written = study_of_text(CHART).for_instrument(INSTRUMENTS[instrument])
    assert (written.key.text, chords(written)[0], written.written_for) == (key, first, instrument)


@pytest.mark.parametrize(
    ("concert", "instrument", "written"),
    [
        ("E", "alto-sax", "Db major"),
        ("B", "trumpet", "Db major"),
        ("F#", "alto-sax", "Eb major"),
        ("Gb", "tenor-sax", "Ab major"),
    ],
)
def test_nobody_is_handed_a_key_with_seven_signs(concert: str, instrument: str, written: str) -> None:
    study = study_of_text(CHART.replace("Eb major", "Eb major")).transposed(Key.parse(concert))
    assert study.for_instrument(INSTRUMENTS[instrument]).key.text == written


def test_there_and_back_is_the_same_chart() -> None:
    study = study_of_text(CHART)
    assert chords(study.transposed(Key.parse("A")).transposed(Key.parse("Eb"))) == chords(study)


WAY = "key: Eb major\n\nA:\n| Ebmaj7 | Am7 D7 | Gmaj7 | Cm7 F7 | Fm7 Bb7 | Eb6 | Abm7 Db7 | Gbmaj7 |"
NAMED = re.compile(r"(?<![A-Za-z])[A-G](?:bb|##|b|#)? (?:major|minor)(?![a-z])")


def sentences(study: StudyChart) -> list[str]:
    """Every sentence of an analysis: of its readings, their alternatives and its key areas."""
    readings = [*study.analysis.readings, *study.computed.readings, *(o.computed for o in study.overridden.values())]
    others = [told(other.reason) for reading in readings for other in reading.alternatives]
    return (
        [told(reading.reason) for reading in readings] + others + [told(area.reason) for area in study.analysis.areas]
    )


@pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=lambda instrument: instrument.key)
@pytest.mark.parametrize("key", ["", "A", "Gb"])
def test_every_sentence_names_keys_in_the_pitch_that_is_shown(instrument: Instrument, key: str) -> None:
    """What the sentences name, degree by degree from the key of the page, is what they name in concert pitch."""
    concert = study_of_text(WAY)
    shown = (concert.transposed(Key.parse(key)) if key else concert).for_instrument(instrument)
    seen = 0
    for before, after in zip(sentences(concert), sentences(shown), strict=True):
        here = [concert.key.degree_of(Key.parse(name).tonic) for name in NAMED.findall(before)]
        assert [shown.key.degree_of(Key.parse(name).tonic) for name in NAMED.findall(after)] == here, after
        seen += len(here)
    assert seen > 5


def test_moving_asks_for_no_second_analysis(monkeypatch: pytest.MonkeyPatch) -> None:
    study = study_of_text(WAY)
    monkeypatch.setattr("tunes.study.analyse", lambda *args, **kwargs: pytest.fail("analysed again"))
    assert study.for_instrument(INSTRUMENTS["alto-sax"]).key == Key.parse("C")


@pytest.mark.parametrize("text", ["", "no bars here", "key: C"])
def test_a_text_without_bars_is_no_chart(text: str) -> None:
    with pytest.raises(ChartUnreadable):
        study_of_text(text)
