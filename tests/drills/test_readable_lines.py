"""Diminished scales, approaches and names that a player reads at sight."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drills.lines.build import Recipe
from drills.lines.compass import compass_of
from drills.lines.line import QUAVER, LineChord
from drills.lines.passage import passage
from drills.lines.readable import simpler
from drills.lines.scales import ChordScale, scales
from studio.instruments import INSTRUMENTS
from tests.drills.lines import line_for
from tests.drills.studies import ROOTS, chart, progressions
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import NoteName, Pitch
from tunes.harmony.scales.scales import scale_notes

EIGHT_NOTES = {"whole-half": (2, 1) * 4, "half-whole": (1, 2) * 4}


@pytest.mark.parametrize("key", ["alto-sax", "trumpet", "trombone", "bass", "flute"])
@pytest.mark.parametrize("kind", sorted(EIGHT_NOTES))
@pytest.mark.parametrize("direction", ["up", "down", "alternating"])
def test_a_diminished_scale_steps_from_note_to_note(key: str, kind: str, direction: str) -> None:
    """Steps of the two diminished scales by definition (logical): tone and semitone in turn, inside the instrument's range."""
    chords = "| " + " | ".join(f"{root}dim7" for root in ROOTS) + " |"
    compass = compass_of(INSTRUMENTS[key])

    def scale_of(chord: LineChord) -> ChordScale:
        assert chord.symbol is not None
        return ChordScale(kind, scale_notes(chord.symbol.root, kind), "for a test")

    part = passage(chart(chords))
    notes = scales(part, compass, scale_of, direction=direction, value=QUAVER)
    for chord in part.chords:
        played = [note.pitch for note in notes if note.event == chord.event and note.pitch]
        assert len(played) == 8
        assert all(compass.low <= pitch.midi <= compass.high for pitch in played)
        assert all(1 <= abs(a.midi - b.midi) <= 2 for a, b in pairwise(played))


@pytest.mark.parametrize("kind", sorted(EIGHT_NOTES))
@pytest.mark.parametrize("text", [*ROOTS, "Gb", "C#", "G#", "D#", "A#"])
def test_a_diminished_scale_is_spelled_by_step_without_double_signs(kind: str, text: str) -> None:
    root = NoteName.parse(text)
    names = scale_notes(root, kind)
    steps = [(b.step - a.step) % 7 for a, b in pairwise([*names, root])]
    assert sorted(steps) == [0, *[1] * 7]
    assert [(b.pc - a.pc) % 12 for a, b in pairwise([*names, root])] == list(EIGHT_NOTES[kind])
    assert all(abs(name.alter) < 2 for name in names)


@pytest.mark.parametrize(("changes", "ornament", "line"), [
    ("| Dm7 | G7 | Cmaj7 |", "enclosure", "F4 F4 D#4 F4 E4"),  # the held F is not played again: the lower neighbour comes first
    ("| Am7 | D7 | Gmaj7 |", "enclosure", "C4 C4 A#3 C4 B3"),
    ("| Fm7 | Bb7 | Ebmaj7 |", "below", "Ab4 Ab4 F#4 G4"),
])  # fmt: skip
def test_no_note_of_an_approach_is_played_twice(changes: str, ornament: str, line: str) -> None:
    """Common practice, no source."""
    found = line_for("piano", Recipe(start="3", ornament=ornament), changes)
    assert " ".join(note.pitch.text for note in found.notes if note.pitch) == line


@given(progressions, st.sampled_from(["below", "enclosure"]))
def test_approaches_neither_repeat_a_note_nor_leap(symbols: list[ChordSymbol], ornament: str) -> None:
    text = "| " + " | ".join(s.text for s in symbols) + " |"
    played = [note for note in line_for("alto-sax", Recipe(ornament=ornament), text).notes if note.pitch]
    for one, other in pairwise(played):
        if other.ornament or one.ornament:
            assert one.pitch
            assert other.pitch
            assert 0 < abs(one.pitch.midi - other.pitch.midi) <= 12


def test_a_diminished_seventh_is_read_without_double_flats() -> None:
    """Common practice, no source: A over C diminished; the leading note of G sharp minor keeps its double sharp."""
    flat = line_for("piano", Recipe("arpeggios", "root"), "key: C\n| Cdim7 | Ebdim7 |")
    assert [note.pitch.text for note in flat.notes[:4] if note.pitch] == ["C4", "Eb4", "Gb4", "A4"]
    assert all(abs(note.pitch.name.alter) < 2 for note in flat.notes if note.pitch)
    assert [simpler(Pitch.parse(text)).text for text in ("Bbb4", "Cbbb5", "F##3", "B##3")] == ["A4", "A4", "G3", "C#4"]
