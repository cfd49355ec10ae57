"""Arpeggios, scales, ornaments, keys, breaths, ranges: tables of common practice, then properties."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drills.lines.breaths import BREATH_SECONDS, breath_times
from drills.lines.build import Recipe
from drills.lines.cells import slots
from drills.lines.compass import READABLE, compass_of
from drills.lines.keys import key_order
from drills.lines.ornaments import lower_neighbour, upper_neighbour
from drills.lines.passage import EmptyPassage, passage, readable
from studio.instruments import INSTRUMENTS
from tests.drills.lines import RECIPES, line_for
from tests.drills.studies import chart, progressions, symbol
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import Key, Pitch


def names(instrument: str, recipe: Recipe, text: str) -> str:
    line = line_for(instrument, recipe, "key: C major\n" + text)
    return " ".join(note.pitch.text if note.pitch else "-" for note in line.notes)


# Common practice (handbook of check values, arpeggios): 1-3-5-7 up, 7-5-3-1 down, 3-5-7-9, four quavers for half a bar.
CELLS = [
    (Recipe("arpeggios", "root"), "| Dm7 G7 |", "D4 F4 A4 C5 G4 B4 D5 F5"),
    (Recipe("arpeggios", "root", direction="down"), "| Dm7 G7 |", "C5 A4 F4 D4 F5 D5 B4 G4"),
    (Recipe("arpeggios", "root", direction="alternating"), "| Dm7 G7 |", "D4 F4 A4 C5 F5 D5 B4 G4"),
    (Recipe("arpeggios", "third", ninth=True), "| Dm7 G9 |", "F4 A4 C5 E5 B3 D4 F4 A4"),
    (Recipe("arpeggios", "root", value="crotchets"), "| Cmaj7 |", "C4 E4 G4 B4"),
    (Recipe("arpeggios", "root", value="crotchets"), "| C6 Am7b5 |", "C4 E4 A4 C5"),
    (Recipe("arpeggios", "root", value="crotchets"), "| Dm7 / G7 C6 |", "D4 F4 G4 C4"),
    (Recipe("arpeggios", "root"), "| N.C. Cmaj7 |", "- C4 E4 G4 B4"),
    (Recipe("scales", "root"), "| Cmaj7 |", "C4 D4 E4 F4 G4 A4 B4 C5"),
    (Recipe("scales", "root", direction="down"), "| Cmaj7 |", "C5 B4 A4 G4 F4 E4 D4 C4"),
]  # fmt: skip


@pytest.mark.parametrize(("recipe", "text", "expected"), CELLS)
def test_cells(recipe: Recipe, text: str, expected: str) -> None:
    assert names("piano", recipe, text) == expected


@pytest.mark.parametrize(("metre", "count"), [("4/4", 8), ("3/4", 6), ("6/8", 6), ("5/4", 10), ("2/2", 8)])
def test_a_bar_is_filled_in_any_metre(metre: str, count: int) -> None:
    line = line_for("flute", Recipe("arpeggios", "nearest"), f"key: C\nmetre: {metre}\n| Dm7 | G7 |")
    assert sum(note.start < line.bars[1].start for note in line.notes) == count


@given(
    st.fractions(min_value=Fraction(1, 4), max_value=16, max_denominator=4),
    st.sampled_from([Fraction(1, 2), Fraction(1)]),
)
def test_slots_fill_exactly(duration: Fraction, value: Fraction) -> None:
    assert sum(slots(duration, value)) == duration


def written_line(instrument: str, recipe: Recipe, symbols: list[ChordSymbol]):  # type: ignore[no-untyped-def]
    text = "key: C\n| " + " | ".join(s.text for s in symbols) + " |"
    return line_for(instrument, recipe, text)


@given(progressions, st.sampled_from(["alto-sax", "trumpet", "trombone", "bass", "flute", "guitar"]))
def test_running_arpeggios_go_to_the_nearest_other_tone(symbols: list[ChordSymbol], instrument: str) -> None:
    line = written_line(instrument, Recipe("arpeggios", "nearest"), symbols)
    compass = compass_of(INSTRUMENTS[instrument])
    chords = {chord.event: chord for chord in line.chords}
    for one, other in pairwise(note for note in line.notes if note.pitch):
        assert compass.fits(other.pitch)
        if one.event == other.event:
            continue
        tones = {tone.pc for tone in chords[other.event].symbol.tones}
        gap = abs(other.pitch.midi - one.pitch.midi)
        nearer = [
            midi for midi in range(one.pitch.midi - gap + 1, one.pitch.midi + gap)
            if midi != one.pitch.midi and midi % 12 in {n.pitch.midi % 12 for n in line.notes if n.event == other.event}
            and compass.easy_low <= midi <= compass.easy_high
        ]  # fmt: skip
        assert nearer == []
        assert other.pitch.name.pc in tones


@given(progressions)
def test_running_scales_move_by_step_and_never_stand(symbols: list[ChordSymbol]) -> None:
    line = written_line("tenor-sax", Recipe("scales", "nearest"), symbols)
    for one, other in pairwise(note for note in line.notes if note.pitch):
        assert 1 <= abs(other.pitch.midi - one.pitch.midi) <= 3


@pytest.mark.parametrize(
    "recipe", RECIPES, ids=lambda recipe: f"{recipe.kind}-{recipe.start}-{recipe.direction}-{recipe.voices}"
)
@pytest.mark.parametrize("instrument", [key for key in INSTRUMENTS if key != "drums"])
def test_every_instrument_gets_notes_it_has_or_a_warning(instrument: str, recipe: Recipe) -> None:
    line = line_for(instrument, recipe)
    compass = compass_of(INSTRUMENTS[instrument])
    outside = [n for n in line.notes if n.pitch and not compass.low <= n.pitch.midi <= compass.high]
    warned = any("outside the usual range" in remark.text for remark in line.remarks)
    assert bool(outside) == warned


@pytest.mark.parametrize("instrument", [key for key in INSTRUMENTS if key != "drums"])
def test_registers_read_well(instrument: str) -> None:
    compass = compass_of(INSTRUMENTS[instrument])
    low, high = READABLE[compass.clef]
    assert compass.easy_high - compass.easy_low >= 12
    if compass.easy_low < low.midi or compass.easy_high > high.midi:
        comfortable = INSTRUMENTS[instrument]
        assert (compass.easy_low, compass.easy_high) == (
            comfortable.comfortable_low.midi,
            comfortable.comfortable_high.midi,
        )


# music21 10.5 instrument classes: its transpositions are checked against ours where it has them (its guitar and
# electric bass have none, and it knows no flugelhorn: handbook of check values, instruments).
MUSIC21 = {
    "flute": "Flute", "clarinet": "Clarinet", "soprano-sax": "SopranoSaxophone", "alto-sax": "AltoSaxophone",
    "tenor-sax": "TenorSaxophone", "baritone-sax": "BaritoneSaxophone", "trumpet": "Trumpet", "trombone": "Trombone",
    "bass": "Contrabass", "piano": "Piano", "vibraphone": "Vibraphone", "violin": "Violin",
}  # fmt: skip


@pytest.mark.parametrize(("instrument", "theirs"), MUSIC21.items())
def test_sounding_pitch_agrees_with_music21(instrument: str, theirs: str) -> None:
    interval = getattr(music21.instrument, theirs)().transposition
    line = line_for(instrument, Recipe("arpeggios", "root"))
    down = interval.semitones if interval else 0
    assert -line.shift.semitones == down


# Common practice: neighbours of a target in its key.
@pytest.mark.parametrize(
    ("target", "key", "above", "below"),
    [("E4", "C", "F4", "D#4"), ("Bb4", "Eb", "C5", "A4"), ("F4", "Bb", "G4", "E4"), ("Cb5", "Gb", "Db5", "Bb4"),
     ("F#4", "G", "G4", "E#4"), ("Eb4", "C minor", "F4", "D4")],
)  # fmt: skip
def test_neighbours(target: str, key: str, above: str, below: str) -> None:
    pitch = Pitch.parse(target)
    assert upper_neighbour(pitch, Key.parse(key)).text == above
    assert lower_neighbour(pitch).text == below


@given(st.sampled_from(["fourths", "half-steps", "whole-steps", "random"]), st.integers(-6, 5), st.integers(0, 99))
def test_twelve_keys_once_each(order: str, fifths: int, seed: int) -> None:
    from tunes.harmony.pitch.spelling import NoteName

    start = Key(NoteName.from_fifths(fifths))
    keys = key_order(start, order, seed)
    assert keys[0] == start
    assert {key.tonic.pc for key in keys} == set(range(12))
    assert all(abs(key.fifths) <= 6 for key in keys)
    assert keys == key_order(start, order, seed)


@given(st.integers(1, 40), st.integers(40, 300))
def test_a_breath_reaches_from_one_place_to_the_next(bars: int, tempo: int) -> None:
    part = passage(chart("| " + " | ".join(["C7"] * bars) + " |"))
    places = [Fraction(0), *breath_times(part.bars, tempo), part.bars[-1].end]
    longest_bar = max(bar.length for bar in part.bars)
    for one, other in pairwise(places):
        assert other - one <= max(Fraction(BREATH_SECONDS * tempo, 60), longest_bar)


def test_chords_are_spelled_for_the_key_when_that_reads_better() -> None:
    assert readable(symbol("G#maj7"), Key.parse("Bb"), "b7").text == "Abmaj7"
    assert readable(symbol("Bmaj7"), Key.parse("Db"), "b7").text == "Bmaj7", "as typed, where it reads well"
    assert readable(symbol("Ebm7"), Key.parse("Db"), "2").text == "Ebm7"


@pytest.mark.parametrize(("first", "last", "bars"), [(5, 8, [5, 6, 7, 8]), (32, 31, [31, 32]), (3, 0, [3])])
def test_chosen_bars(first: int, last: int, bars: list[int]) -> None:
    line = line_for("piano", Recipe(first_bar=first, last_bar=last))
    assert [bar.number for bar in line.bars] == bars
    assert line.notes[0].start == 0


ENDINGS = "key: F\n[A]\n|: Fmaj7 | Dm7 | Gm7 | C7 |1. Am7 | D7 :|2. Fmaj7 | F7 |\n[B]\n| Bbmaj7 | C7 |"


@pytest.mark.parametrize(
    ("first", "last", "bars", "twice"),
    [
        (1, 4, [1, 2, 3, 4], ""),  # a plain repeat is practised once
        (1, 6, [1, 2, 3, 4, 5, 6], ""),
        (7, 8, [11, 12], ""),
        (8, 10, [12, 13, 14], ""),
        (3, 8, [3, 4, 5, 6, 9, 10, 11, 12], "bars 9 and 10"),  # into each ending, as the chorus plays it
        (4, 7, [4, 5, 6, 10, 11], "bar 10"),
        (6, 9, [6, 11, 12, 13], ""),  # begins inside the first ending: nothing leads there
        (1, 10, list(range(1, 15)), "bars 7, 8, 9 and 10"),
    ],
)
def test_bars_across_two_endings_are_those_that_the_chorus_plays(
    first: int, last: int, bars: list[int], twice: str
) -> None:
    """Chosen as written, named as played. Repeat signs and endings mean what they mean in every chart: common practice, no source."""
    line = line_for("piano", Recipe(first_bar=first, last_bar=last), ENDINGS)
    assert [bar.number for bar in line.bars] == bars
    said = [remark.text for remark in line.remarks if "come again" in remark.text]
    assert [twice in text for text in said] == ([True] if twice else [])


def test_bars_without_a_chord_are_refused_with_words() -> None:
    with pytest.raises(EmptyPassage, match="choose bars that have changes"):
        line_for("piano", Recipe(first_bar=32, last_bar=32))


def test_a_chord_held_over_the_barline_goes_on() -> None:
    line = line_for("piano", Recipe(start="3"), "key: C\n| Dm7 | / / G7 / |")
    assert [chord.symbol.text for chord in line.chords if chord.symbol] == ["Dm7", "Dm7", "G7"]
