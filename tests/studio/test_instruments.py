"""The instrument table against published transpositions."""

from __future__ import annotations

import pytest

from studio.instruments import INSTRUMENTS, Instrument, find_instrument

# (diatonic steps, semitones) that the written note lies above the sounding one.
# Source: music21 10.5 instrument classes (Trumpet M-2, Clarinet M-2, SopranoSaxophone M-2, AltoSaxophone M-6,
# TenorSaxophone M-9, BaritoneSaxophone M-13, Contrabass P-8), as MusicXML's `transpose` gives them.
# Flute, trombone, piano, vibraphone sound as written; guitar sounds an octave lower (common practice).
PUBLISHED = {
    "trumpet": (1, 2),
    "clarinet": (1, 2),
    "soprano-sax": (1, 2),
    "alto-sax": (5, 9),
    "tenor-sax": (8, 14),
    "baritone-sax": (12, 21),
    "bass": (7, 12),
    "guitar": (7, 12),
    "flute": (0, 0),
    "trombone": (0, 0),
    "bass-trombone": (0, 0),
    "piano": (0, 0),
    "vibraphone": (0, 0),
    "flugelhorn": (1, 2),
    "bass-clarinet": (8, 14),
    "horn": (4, 7),
    "tuba": (0, 0),
    "keyboards": (0, 0),
}
# Sounding ranges in MIDI numbers. Vibraphone F3 to F6, piano A0 to C8: the instruments' own keys (common practice).
SOUNDING = {
    "vibraphone": (53, 89),
    "piano": (21, 108),
    "alto-sax": (49, 81),
    "tenor-sax": (44, 76),
    "trumpet": (52, 82),
    "bass-clarinet": (37, 77),
}


@pytest.mark.parametrize(("key", "interval"), PUBLISHED.items())
def test_transposition(key: str, interval: tuple[int, int]) -> None:
    found = INSTRUMENTS[key].interval
    assert (found.steps, found.semitones) == interval


@pytest.mark.parametrize(("key", "interval"), PUBLISHED.items())
def test_transposition_agrees_with_music21(key: str, interval: tuple[int, int]) -> None:
    from music21 import instrument

    classes = {
        "trumpet": "Trumpet",
        "clarinet": "Clarinet",
        "soprano-sax": "SopranoSaxophone",
        "alto-sax": "AltoSaxophone",
        "tenor-sax": "TenorSaxophone",
        "baritone-sax": "BaritoneSaxophone",
        "bass": "Contrabass",
        "bass-clarinet": "BassClarinet",
        "horn": "Horn",
    }
    if key not in classes:  # the library has no transposition, or no class, for the rest
        assert interval in {(0, 0), (1, 2), (7, 12)}
        return
    theirs = getattr(instrument, classes[key])().transposition
    assert -round(theirs.chromatic.semitones) == interval[1]


@pytest.mark.parametrize(("key", "limits"), SOUNDING.items())
def test_sounding_range(key: str, limits: tuple[int, int]) -> None:
    entry = INSTRUMENTS[key]
    assert (entry.low.midi - entry.interval.semitones, entry.high.midi - entry.interval.semitones) == limits


@pytest.mark.parametrize("entry", INSTRUMENTS.values(), ids=lambda entry: entry.key)
def test_ranges_are_nested(entry: Instrument) -> None:
    assert entry.low.midi <= entry.comfortable_low.midi < entry.comfortable_high.midi <= entry.high.midi
    assert entry.comfortable_high.midi - entry.comfortable_low.midi >= 12
    assert entry.clef in {"treble", "bass"}
    assert entry.source


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("Tenor Saxophone", "tenor-sax"),
        ("tenor sax", "tenor-sax"),
        ("  ALTO   SAX ", "alto-sax"),
        ("bari", "baritone-sax"),
        ("Bb Trumpet", "trumpet"),
        ("Trumpet in B♭", "trumpet"),
        ("double-bass", "bass"),
        ("Vibes", "vibraphone"),
        ("Horn in F", "horn"),
        ("percussion", "percussion"),
        ("Drums", "drums"),
        ("voice, alto", "voice-alto"),
        ("kazoo", None),
        ("", None),
    ],
)
def test_instruments_are_found_by_what_people_call_them(text: str, key: str | None) -> None:
    found = find_instrument(text)
    assert (found.key if found else None) == key
