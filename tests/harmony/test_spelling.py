"""Names, intervals and keys. Interval arithmetic is checked against music21's interval and pitch theory, MIDI
numbers against the MIDI convention (C4 = 60), signatures against the circle of fifths."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import interval as m21interval
from music21 import key as m21key
from music21 import pitch as m21pitch

from tunes.harmony.pitch.spelling import (
    MAJOR_KEYS,
    MINOR_KEYS,
    Interval,
    Key,
    NoteName,
    Pitch,
    SpellingError,
    degree_between,
    sensible,
    transposition,
)

NAMES = st.builds(NoteName, st.sampled_from("ABCDEFG"), st.integers(-2, 2))
SIMPLE = [
    "P1",
    "m2",
    "M2",
    "A2",
    "m3",
    "M3",
    "d4",
    "P4",
    "A4",
    "d5",
    "P5",
    "A5",
    "m6",
    "M6",
    "d7",
    "m7",
    "M7",
    "P8",
    "m9",
    "M9",
    "M13",
]


def m21name(name):
    return name.text.replace("b", "-")


@pytest.mark.parametrize("text", SIMPLE)
def test_interval_names_agree_with_music21(text):
    theirs = m21interval.Interval(text)
    ours = Interval.parse(text)
    assert ours.semitones == theirs.semitones
    assert ours.steps == theirs.generic.staffDistance
    assert ours.name == text
    assert (-ours).name == ("P1" if text == "P1" else f"-{text}")


@pytest.mark.parametrize("key", MAJOR_KEYS)
@pytest.mark.parametrize("text", SIMPLE)
def test_transposed_pitches_agree_with_music21(key, text):
    ours = Pitch(key.tonic, 4) + Interval.parse(text)
    theirs = m21pitch.Pitch(m21name(key.tonic) + "4").transpose(text)
    assert ours.midi == theirs.midi
    assert ours.text == theirs.nameWithOctave.replace("-", "b")


@pytest.mark.parametrize(("text", "midi"), [("C4", 60), ("B3", 59), ("Cb4", 59), ("B#3", 60), ("A4", 69), ("C-1", 0)])
def test_midi_numbers(text, midi):
    assert Pitch.parse(text).midi == midi


# Written above sounding (common practice): trumpet and clarinet M2, alto saxophone M6, tenor M9, baritone M13.
@pytest.mark.parametrize(
    ("sounding", "interval", "written"),
    [
        ("Ab3", "M2", "Bb3"),
        ("Db3", "M6", "Bb3"),
        ("Ab2", "M9", "Bb3"),
        ("Db2", "M13", "Bb3"),
        ("E3", "M2", "F#3"),
    ],
)
def test_written_pitches(sounding, interval, written):
    assert (Pitch.parse(sounding) + Interval.parse(interval)).text == written


@pytest.mark.parametrize("text", ["Bb", "B♭", "F##", "Fx", "C", "E♯", "Abb", "A𝄫"])
def test_names_read_back(text):
    name = NoteName.parse(text)
    assert NoteName.parse(name.text) == name == NoteName.parse(name.display)


@pytest.mark.parametrize("text", ["H", "b", "", "C7", "Bq", "♭B", "Cb#", "Cbbbbb"])
def test_bad_names(text):
    with pytest.raises(SpellingError):
        NoteName.parse(text)


@pytest.mark.parametrize("text", ["P3", "M5", "X4", "", "M", "P0", "--M2"])
def test_bad_intervals(text):
    with pytest.raises(SpellingError):
        Interval.parse(text)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("Eb major", "Eb major"), ("Eb", "Eb major"), ("Ebm", "Eb minor"), ("C minor", "C minor"), ("F# min", "F# minor"),
        ("F♯ Maj", "F# major"), ("BM", "B major"), ("bb minor", "Bb minor"), ("A-", "A minor"), ("G mi", "G minor"),
    ],
)  # fmt: skip
def test_keys_read(text, key):
    assert Key.parse(text).text == key


@pytest.mark.parametrize("key", MAJOR_KEYS + MINOR_KEYS)
def test_signatures_agree_with_music21(key):
    theirs = m21key.Key(m21name(key.tonic), key.mode)
    assert key.fifths == theirs.sharps
    assert key.relative.fifths == key.fifths
    assert abs(key.fifths) <= 6


@pytest.mark.parametrize(
    ("odd", "plain"),
    [("E#", "F"), ("Fb", "E"), ("G#", "Ab"), ("F#", "Gb"), ("Cb", "B"), ("C#", "Db"), ("D# minor", "Eb minor"),
     ("Ab minor", "G# minor"), ("Cb minor", "B minor"), ("Db minor", "C# minor"), ("B", "B")],
)  # fmt: skip
def test_no_key_that_no_player_reads(odd, plain):
    assert sensible(Key.parse(odd)) == Key.parse(plain)


@given(NAMES)
def test_sensible_keys_sound_the_same(name):
    for mode in ("major", "minor"):
        key = sensible(Key(name, mode))
        assert key.tonic.pc == name.pc
        assert -6 <= key.fifths <= 5


@given(NAMES, NAMES)
def test_interval_between_leads_there(a, b):
    assert a + a.interval_to(b) == b
    assert 0 <= a.interval_to(b).steps < 7
    degree = degree_between(a, b)
    assert Key(a).note_at(degree) == b


@given(st.integers(-20, 20), st.integers(-30, 30))
def test_interval_name_round_trip(steps, shift):
    natural = (0, 2, 4, 5, 7, 9, 11)[steps % 7] + 12 * (steps // 7)
    interval = Interval(steps, natural + shift % 4 - 1)
    assert Interval.parse(interval.name) == interval


@given(NAMES, st.integers(20, 110))
def test_nearest_pitch(name, midi):
    pitch = Pitch.nearest(name, midi)
    assert abs(pitch.midi - midi) <= 6
    assert pitch.name == name


@pytest.mark.parametrize("source", MAJOR_KEYS)
@pytest.mark.parametrize("target", MAJOR_KEYS)
def test_transposition_between_keys(source, target):
    interval = transposition(source, target)
    assert source.tonic + interval == target.tonic
    assert -6 < interval.semitones <= 6


@pytest.mark.parametrize(
    ("name", "spoken"), [("Bb", "B flat"), ("F##", "F double sharp"), ("C", "C"), ("E#", "E sharp")]
)
def test_spoken(name, spoken):
    assert NoteName.parse(name).spoken == spoken
