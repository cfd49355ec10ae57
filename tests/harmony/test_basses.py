"""Pedals and basses that move by step under the chords, every case in all twelve keys.

Sources: pedal point, the chords over it heard against the note that stays, Kostka & Payne, *Tonal Harmony*; basses by step under
inversions are common practice, no single source. All charts are made up here.
"""

from __future__ import annotations

import pytest

from tests.harmony.test_analysis import TONICS, in_key, major, minor, numerals
from tunes.harmony.explain.sentences import told

TONIC_PEDAL = "| Cmaj7 | D/C | Dm7/C | G7/C | Cmaj7 | Bb/C | Am7/C | Cmaj7 | Dm7 | G7 | Cmaj7 | Cmaj7 |"
DOMINANT_PEDAL = "| Cmaj7 | Am7 | G7sus | Dm7/G | Eb/G | G7 | Cmaj7 | Cmaj7 |"


@pytest.mark.parametrize("tonic", TONICS)
def test_over_one_nothing_falls_a_fifth(tonic: str) -> None:
    found = in_key(major(TONIC_PEDAL), tonic)
    assert [found.readings[event].rule for event in (1, 2, 3, 5, 6)] == ["pedal"] * 5
    assert told(found.readings[3].reason) == "5 is heard over a bass that stays on 1."
    assert not any("cadence-major" in reading.patterns for reading in found.readings[:5])
    assert "cadence-major" in found.readings[9].patterns


@pytest.mark.parametrize("tonic", TONICS)
def test_a_triad_over_a_tonic_pedal_is_not_suspended(tonic: str) -> None:
    """Flat 7 over 1 is colour (Mixolydian) while 1 is held; before its own dominant it is suspended."""
    found = in_key(major(TONIC_PEDAL), tonic)
    assert found.readings[5].function.numeral == "bVII"
    assert found.readings[5].resolves_to is None
    alone = in_key(major("| Cmaj7 | Dm7 | F/G | G7 | Cmaj7 | Cmaj7 |"), tonic)
    assert numerals(alone)[2] == "V7sus"


@pytest.mark.parametrize("tonic", TONICS)
def test_six_over_one_is_also_one_with_its_sixth(tonic: str) -> None:
    """Am7 over C and C6 have the same four notes (logical identity)."""
    found = in_key(major(TONIC_PEDAL), tonic)
    assert ("I6", found.home) in {(one.function.numeral, one.key) for one in found.readings[6].alternatives}


@pytest.mark.parametrize("tonic", TONICS)
def test_five_is_held_over_five(tonic: str) -> None:
    found = in_key(major(DOMINANT_PEDAL), tonic)
    assert [reading.rule for reading in found.readings[2:6]] == ["held-five", "held-five", "pedal", "dominant"]
    colour = found.readings[4]
    assert (colour.function.role, colour.resolves_to, found.landing[4]) == ("colour", None, None)
    assert all("pedal-dominant" in reading.patterns for reading in found.readings[2:6])


LINES = {
    "falling in minor": (
        minor("| Cm | Cm/Bb | F/A | Abmaj7 | Eb/G | Dm7b5 | G7 | Cm |"),
        1,
        "falls by step: 1, flat 7, 6, flat 6, 5.",
    ),
    "falling in major": (
        major("| C | Em/B | Am7 | Am7/G | Fmaj7 | Dm7 | G7 | C |"),
        1,
        "falls by step: 1, 7, 6, 5, 4.",
    ),
    "rising": (
        major("| Cmaj7 | Dm7 | C/E | Fmaj7 | F#dim7 | C/G | Dm7 G7 | Cmaj7 |"),
        2,
        "rises by step: 1, 2, 3, 4, sharp 4, 5.",
    ),
}


@pytest.mark.parametrize("tonic", TONICS)
@pytest.mark.parametrize("case", LINES)
def test_a_bass_by_step_is_told(case: str, tonic: str) -> None:
    text, event, words = LINES[case]
    reading = in_key(text, tonic).readings[event]
    assert reading.rule == "bass-line"
    assert told(reading.reason).endswith(words)


@pytest.mark.parametrize("bars", ["| C | Bm7b5 | Am7 | G7 | C | C |", "| C | Dm7 | Em7 | Dm7 G7 | C | C |"])
def test_roots_by_step_are_no_bass_line(bars: str) -> None:
    """Without an inversion the bass says nothing that the chords do not."""
    assert not any(reading.rule == "bass-line" for reading in in_key(major(bars), "C").readings)


@pytest.mark.parametrize("tonic", TONICS)
def test_an_inversion_is_said(tonic: str) -> None:
    """Common practice: first, second and third inversion stand on the 3rd, the 5th and the 7th."""
    found = in_key(major("| Cmaj7 | C7/E | Fmaj7 | D7/C | Dm7 | G7 | Cmaj7 | Cmaj7 |"), tonic)
    assert told(found.readings[1].reason) == "5 of 4 falls a fifth to 4; its 3rd is in the bass."
    assert told(found.readings[3].reason).endswith("; its 7th is in the bass.")
