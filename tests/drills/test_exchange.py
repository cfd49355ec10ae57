"""MusicXML and MIDI of drills: valid by the W3C schema, and the same music through two other readers."""

from __future__ import annotations

import io
from fractions import Fraction

import mido
import music21
import pytest
from lxml import etree

from drills.lines.build import Recipe
from drills.lines.line import Line
from drills.mei import to_mei
from drills.midi import to_midi
from drills.musicxml import to_musicxml
from studio.instruments import INSTRUMENTS
from tests.drills.lines import RECIPES, line_for
from tests.tunes.musicxml_schema import schema
from tunes.interchange.importing import import_lead_sheet

PLAYERS = ("alto-sax", "tenor-sax", "baritone-sax", "trumpet", "trombone", "guitar", "bass", "flute", "piano")
CASES = [(player, recipe) for player in PLAYERS for recipe in RECIPES]


def sounding(line: Line) -> list[tuple[Fraction, Fraction, int]]:
    return [(n.start, n.duration, n.pitch.midi - line.shift.semitones) for n in line.notes if n.pitch]


@pytest.mark.parametrize(("player", "recipe"), CASES)
def test_every_drill_is_valid_musicxml(player: str, recipe: Recipe) -> None:
    """MusicXML 4.0 schema, W3C Music Notation Community Group, 2021."""
    document = etree.fromstring(to_musicxml(line_for(player, recipe)).encode())
    assert schema().validate(document), schema().error_log


@pytest.mark.parametrize(("player", "recipe"), CASES[::5])
def test_music21_reads_the_same_notes_and_changes(player: str, recipe: Recipe) -> None:
    line = line_for(player, recipe)
    score = music21.converter.parseData(to_musicxml(line), format="musicxml")
    part = score.parts[0]
    written = [
        (Fraction(n.getOffsetInHierarchy(part)), n.pitch.nameWithOctave.replace("-", "b"), Fraction(n.quarterLength))
        for n in part.stripTies().recurse().getElementsByClass(music21.note.Note)
    ]
    ours = [(n.start, n.pitch.text, n.duration) for n in line.notes if n.pitch]
    assert sorted(written) == sorted(ours)
    chords = [
        (h.root().name.replace("-", "b"), h.bass().name.replace("-", "b"))
        for h in part.recurse().getElementsByClass(music21.harmony.ChordSymbol)
        if h.chordKind != "none"
    ]
    assert chords == [(c.symbol.root.text, (c.symbol.bass or c.symbol.root).text) for c in line.chords if c.symbol]


@pytest.mark.parametrize(("player", "recipe"), [case for case in CASES if case[1].voices == 1][::4])
def test_our_own_import_reads_the_same_notes_and_changes_in_concert_pitch(player: str, recipe: Recipe) -> None:
    line = line_for(player, recipe)
    back = import_lead_sheet(to_musicxml(line).encode())
    bars = back.chart.bars
    starts = [sum((bar.metre.quarters for bar in bars[:i]), Fraction(0)) for i in range(len(bars))]
    notes: list[tuple[Fraction, Fraction, int]] = []
    for note in back.melody.notes:
        start = starts[note.bar] + note.start * 4 / bars[note.bar].metre.unit
        length = note.duration * 4 / bars[note.bar].metre.unit
        if notes and note.tied and notes[-1][0] + notes[-1][1] == start:
            notes[-1] = (notes[-1][0], notes[-1][1] + length, notes[-1][2])
        else:
            notes.append((start, length, note.pitch.midi))
    assert notes == sounding(line)
    down = -line.shift
    ours = [c.symbol.transposed(down.simple).pcs if c.symbol else None for c in line.chords]
    theirs = [slot.symbol.pcs if slot.symbol else None for bar in bars for slot in bar.slots]
    assert theirs == ours


@pytest.mark.parametrize("player", ["tenor-sax", "bass", "trombone"])
def test_midi_sounds_what_is_printed(player: str) -> None:
    line = line_for(player, Recipe("arpeggios", "nearest"))
    midi = mido.MidiFile(file=io.BytesIO(to_midi(line, tempo=90)))
    time, started, heard = 0, {}, []
    for message in midi.tracks[1]:
        time += message.time
        if message.type == "note_on":
            started[message.note] = time
        elif message.type == "note_off":
            begin = started.pop(message.note)
            heard.append((Fraction(begin, 480), Fraction(time - begin, 480), message.note))
    assert sorted(heard) == sorted(sounding(line))


@pytest.mark.parametrize("recipe", RECIPES)
def test_the_engraver_reads_both_forms_without_a_warning(recipe: Recipe, capfd: pytest.CaptureFixture[str]) -> None:
    from drills.engraving import render

    line = line_for("alto-sax", recipe)
    render(to_mei(line, functions=True))
    render(to_musicxml(line))
    assert capfd.readouterr().err == ""


def test_the_engraver_hears_the_same_notes_in_our_mei() -> None:
    """Verovio's own MIDI of our MEI against the line: two readings of the same music."""
    from drills.engraving import midi_of

    line = line_for("flute", Recipe(ornament="enclosure"))
    midi = mido.MidiFile(file=io.BytesIO(midi_of(to_mei(line))))
    heard = [m.note for track in midi.tracks for m in track if m.type == "note_on" and m.velocity]
    assert heard == [pitch for _, _, pitch in sounding(line)]


# The handbook's table of instruments: MusicXML transpose as diatonic/chromatic/octave-change.
TRANSPOSE = [
    ("clarinet", (-1, -2, None)), ("soprano-sax", (-1, -2, None)), ("alto-sax", (-5, -9, None)),
    ("tenor-sax", (-1, -2, -1)), ("baritone-sax", (-5, -9, -1)), ("trumpet", (-1, -2, None)),
    ("flugelhorn", (-1, -2, None)), ("guitar", (0, 0, -1)), ("bass", (0, 0, -1)), ("flute", None), ("trombone", None),
]  # fmt: skip


@pytest.mark.parametrize(("player", "expected"), TRANSPOSE)
def test_transpose_element(player: str, expected: tuple[int, int, int | None] | None) -> None:
    root = etree.fromstring(to_musicxml(line_for(player, Recipe())).encode())
    found = root.find(".//transpose")
    if expected is None:
        assert found is None
        return
    assert found is not None
    octave = found.findtext("octave-change")
    assert (
        int(found.findtext("diatonic")),
        int(found.findtext("chromatic")),
        int(octave) if octave else None,
    ) == expected
    assert INSTRUMENTS[player].interval.semitones == -(expected[1] + 12 * (expected[2] or 0))
