"""Degrees, spelling, roles and borders. The tables name the books whose definitions they state; chapters from memory."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.melody.lines import GRID, changes, melody
from tunes.harmony.chords import parse_symbol
from tunes.harmony.pitch.spelling import NoteName
from tunes.melody import RULES, Change, Note, read_notes, reason
from tunes.melody.roles import ORDER
from tunes.melody.tones import tones_of


def read(pitches, chords, start=0.0, step=0.5):
    """pitches: names, midi numbers in quavers, or (beat, beats, midi) where the lengths matter."""
    if isinstance(pitches[0], tuple):
        return read_notes([Note(*row) for row in pitches], changes(chords), GRID)
    return read_notes(melody(pitches, start, step), changes(chords), GRID)


# The definition of the published counts: 1 3 5 7 or 6 of the written chord; sus 1 4 5 b7, dim as dim7 (Pfleiderer et al.
# (eds.), Inside the Jazzomat, Schott 2017; Weimar Jazz Database). Common practice, no source: 7alt, 7b5.
CHORD_TONES = [
    ("C", {0, 4, 7}), ("Cmaj7", {0, 4, 7, 11}), ("C69", {0, 4, 7, 9}), ("Cm", {0, 3, 7}), ("Cm6", {0, 3, 7, 9}),
    ("Cm9", {0, 3, 7, 10}), ("Cm(maj7)", {0, 3, 7, 11}), ("C13", {0, 4, 7, 10}), ("C7#9", {0, 4, 7, 10}),
    ("C7#5", {0, 4, 8, 10}), ("C7sus4", {0, 5, 7, 10}), ("Csus4", {0, 5, 7, 10}), ("Cm7b5", {0, 3, 6, 10}),
    ("Cdim", {0, 3, 6, 9}), ("Cdim7", {0, 3, 6, 9}), ("Caug", {0, 4, 8}), ("Cmaj7#5", {0, 4, 8, 11}),
    ("C7alt", {0, 4, 7, 10}), ("C7b5", {0, 4, 6, 10}), ("C5", {0, 7}),
]  # fmt: skip


@pytest.mark.parametrize(("symbol", "inside"), CHORD_TONES, ids=[row[0] for row in CHORD_TONES])
def test_chord_tones(symbol, inside):
    assert tones_of(parse_symbol(symbol).symbol).inside == inside


# Nettles and Graf 1997: the available tensions of the chords of a key, in scale degrees; the names of all twelve notes are
# common practice (a b3 over a dominant is its #9).
DEGREES = [
    ("G7", "G4 Ab4 A4 A#4 B4 C5 C#5 D5 Eb5 E5 F5 F#5", "1 b9 9 #9 3 11 #11 5 b13 13 b7 7"),
    ("Dm7", "D4 Eb4 E4 F4 F#4 G4 Ab4 A4 Bb4 B4 C5 C#5", "1 b9 9 b3 3 11 b5 5 b13 13 b7 7"),
    ("Bm7b5", "B3 D4 F4 A4 E5 G5", "1 b3 b5 b7 11 b13"),
    ("Bdim7", "B3 D4 F4 Ab4", "1 b3 b5 bb7"),
    ("G7sus4", "G4 C5 D5 F5 B4", "1 4 5 b7 3"),
    ("F6", "F4 A4 C5 D5 B4", "1 3 5 6 #11"),
]


@pytest.mark.parametrize(("symbol", "names", "degrees"), DEGREES, ids=[row[0] for row in DEGREES])
def test_degrees_and_their_spelling(symbol, names, degrees):
    """The same degree with the spelling given and with only the sound known; and then the same spelling comes out."""
    written = melody(names)
    bare = [Note(note.onset, note.duration, note.midi) for note in written]
    found = read_notes(written, changes(f"{symbol}@0"), GRID)
    assert [n.degree for n in found] == degrees.split()
    assert [n.name for n in found] == [note.name for note in written]
    sounds = read_notes(bare, changes(f"{symbol}@0"), GRID)
    assert [n.degree for n in sounds] == degrees.split()
    assert [n.name for n in sounds] == [note.name for note in written]


def test_a_written_spelling_is_kept_and_names_the_degree():
    assert read("Db5", "G7@0")[0].degree == "b5"
    assert read("C#5", "G7@0")[0].degree == "#11"
    assert read("A4", "Gb7@0")[0].name == NoteName("A")


# (what, chords, pitches, onset of the first, roles, rules of the notes outside the chord)
ROLES = [
    # Baker, How to Play Bebop 1 (1985): passing notes between chord tones, chord tones on the beat
    ("passing", "Cmaj7@0", [60, 62, 64], 0, "chord tone, passing, chord tone", "passing"),
    ("passing, chromatic", "G7@0", [67, 66, 65], 0, "chord tone, passing, chord tone", "passing"),
    ("bebop scale down", "G7@0", [67, 66, 65, 64, 62], 0, "chord tone, passing, chord tone, passing, chord tone", "passing passing"),
    ("run with a note that comes again", "Cmaj7@0", [67, 68, 68, 70, 71], 0,
     "chord tone, passing, passing, passing, chord tone", "passing-run passing-run passing-run"),
    ("run of four", "C@0", [67, 68, 69, 70, 71, 72], 0,
     "chord tone, passing, passing, passing, passing, chord tone", "passing-run passing-run passing-run passing-run"),
    ("run of two", "Cmaj7@0", [67, 68, 70, 71], 0, "chord tone, passing, passing, chord tone", "passing-run passing-run"),
    # Kostka and Payne, Tonal Harmony: neighbour, escape tone, suspension, anticipation
    ("lower neighbour", "Cmaj7@0", [67, 66, 67], 0, "chord tone, neighbour, chord tone", "neighbour"),
    ("escape", "Cm7@0", [60, 61, 67], 0, "chord tone, neighbour, chord tone", "escape"),
    ("suspension", "G7@0 Cmaj7@1", [65, 65, 65, 64], 0, "chord tone, chord tone, delay, chord tone", "held-over"),
    ("late by step", "G7@0 Cmaj7@1", [67, 71, 65, 64], 0, "chord tone, chord tone, delay, chord tone", "late-step"),
    ("anticipation", "Dm7@0 G7@2", [62, 65, 69, 67, 67], 0.5,
     "chord tone, chord tone, chord tone, chord tone, chord tone", ""),
    ("anticipation, repeated", "Dm7@0 G7@1", [65, 71, 71], 0, "chord tone, anticipation, chord tone", "held-into"),
    # Coker, Elements of the Jazz Language (1991): enclosure; Ligon, Connecting Chords (1996): half steps to a target
    ("half step below", "Cmaj7@0", [67, 63, 64], 0, "chord tone, approach, chord tone", "approach"),
    ("enclosure", "Cmaj7@0", [72, 65, 63, 64], 0.5, "chord tone, enclosure, enclosure, chord tone", "enclosure enclosure"),
    ("enclosure from below", "Cmaj7@0", [72, 66, 68, 67], 0.5, "chord tone, enclosure, enclosure, chord tone",
     "enclosure enclosure"),
    ("9 and 7, then the root", "Cmaj7@0", [67, 74, 71, 72], 0.5, "chord tone, enclosure, chord tone, chord tone", "enclosure"),
    ("a whole step that is none of the scale", "Cmaj7@0", [67, 73, 70, 71], 0.5, "chord tone, other, approach, chord tone",
     "open approach"),
    ("three that do not close in", "C6@0", [60, 63, 65, 66, 64], 0, "chord tone, other, other, tension, chord tone",
     "open open tension"),
    ("three, to a note that is passed", "C6@0", [60, 65, 62, 63, 64, 67], 0.5,
     "chord tone, other, tension, passing, chord tone, chord tone", "open tension passing-tension"),
    ("three, to a note that stays", "C6@0", [60, 65, 62, 63, 64], 0.5, "chord tone, enclosure, enclosure, enclosure, chord tone",
     "enclosure-of-three enclosure-of-three enclosure-of-three"),
    ("a chord tone below, the scale above", "C7@0", [67, 70, 74, 72, 67], 0,
     "chord tone, chord tone, enclosure, chord tone, chord tone", "enclosure"),
    ("enclosure off the beat, where the line stays", "Cmaj7@0", [(0, 0.5, 60), (0.5, 0.5, 65), (1, 0.5, 63), (1.5, 1.5, 64)], 0,
     "chord tone, enclosure, enclosure, chord tone", "enclosure enclosure"),
    ("double time, off half a beat", "Cmaj7@0", [(0, 0.25, 72), (0.25, 0.25, 62), (0.5, 0.25, 65), (0.75, 0.25, 64), (1, 0.25, 60)], 0,
     "chord tone, tension, other, chord tone, chord tone", "tension open"),
    ("enclosure in double time, on half a beat", "Cmaj7@0", [(0, 0.25, 66), (0.25, 0.25, 68), (0.5, 0.25, 67), (0.75, 0.25, 64)], 0,
     "enclosure, enclosure, chord tone, chord tone", "enclosure enclosure"),
    ("enclosure of a note that comes late", "Dm7@0 G7@2", [(0, 0.5, 69), (0.5, 0.5, 62), (1, 0.5, 61), (1.5, 0.5, 59), (2, 0.5, 60), (2.5, 1, 59)], 0,
     "chord tone, chord tone, enclosure, enclosure, delay, chord tone", "enclosure enclosure late-step"),
    ("half steps about the 9th, and it stays", "F7@0", [(0, 0.5, 65), (0.5, 0.5, 68), (1, 0.5, 66), (1.5, 1, 67)], 0,
     "chord tone, enclosure, enclosure, tension", "enclosure-of-tension enclosure-of-tension tension"),
    ("enclosure of three", "C6@0", [60, 65, 62, 63, 64], 0, "chord tone, enclosure, enclosure, enclosure, chord tone",
     "enclosure-of-three enclosure-of-three enclosure-of-three"),
    ("two half steps up", "Cmaj7@0", [72, 62, 63, 64, 60], 0.5,
     "chord tone, double approach, double approach, chord tone, chord tone", "double-approach double-approach"),
    ("half step below the 13th", "F7@0", [65, 61, 62, 65], 0, "chord tone, approach, tension, chord tone", "approach-tension tension"),
    ("a tension that falls by a whole step", "E7@0", [64, 61, 59], 0, "chord tone, tension, chord tone", "tension"),
    ("a tension on the beat", "F7@0", [69, 66, 65], 0.5, "chord tone, tension, chord tone", "tension"),
    ("a chord tone above, then from below", "G7@0", [74, 67, 64, 65], 0.5, "chord tone, chord tone, enclosure, chord tone", "enclosure"),
    # Nettles and Graf 1997: a note that the chord can hold
    ("tension", "G7@0", [65, 69, 74], 0, "chord tone, tension, chord tone", "tension"),
    ("the 11th of the 2", "G7@0", [65, 72, 62], 0, "chord tone, tension, chord tone", "of-the-two"),
    ("passing from a tension", "Dm7@0", [69, 64, 63, 62, 60], 0, "chord tone, tension, passing, chord tone, chord tone",
     "tension passing-tension"),
    ("beside a tension", "Dm7@0", [62, 67, 68, 67], 0, "chord tone, tension, neighbour, tension",
     "tension neighbour-tension tension"),
    ("open", "Cmaj7@0", [60, 68, 75, 61], 0, "chord tone, other, other, other", "open open open"),
]  # fmt: skip


@pytest.mark.parametrize("row", ROLES, ids=[row[0] for row in ROLES])
def test_roles_as_the_books_define_them(row):
    _, chords, pitches, start, roles, rules = row
    found = read(pitches, chords, start)
    assert [n.role for n in found] == roles.split(", ")
    assert [n.rule for n in found if n.role != "chord tone"] == rules.split()


def test_every_rule_has_a_test_and_an_example():
    named = {rule for row in ROLES for rule in row[5].split()} | {"chord-tone", "no-chord"}
    assert {rule for rule, _ in ORDER} | {"chord-tone", "no-chord", "open"} == RULES.keys() == named


SENTENCES = [
    ("Cmaj7@0", [67, 63, 64], 0, 1, "a half step below the 3rd on beat 2"),
    ("Cmaj7@0", [72, 65, 63, 64], 0.5, 1, "above and below, then the 3rd on beat 3"),
    ("G7@0 Cmaj7@1", [65, 65, 65, 64], 0, 2, "held over from G7 into Cmaj7, and falls by step to the 3rd; late: the ♭7th of G7"),
    ("Dm7@0 G7@1", [65, 71, 71], 0, 1, "the 3rd of G7, already sounding before the chord comes; early: the 3rd of G7"),
    ("G7@0", [67, 66, 65], 0, 1, "by step from the root to the ♭7th"),
    ("G7@0", [65, 68, 74], 0, 1, "the ♭9 of G7, a tension it can hold"),
    ("NC@0", [65], 0, 0, "no chord sounds here"),
]  # fmt: skip


@pytest.mark.parametrize(("chords", "pitches", "start", "index", "sentence"), SENTENCES)
def test_the_reason_says_what_is_there(chords, pitches, start, index, sentence):
    notes, over = melody(pitches, start), changes(chords)
    told = reason(read_notes(notes, over, GRID), index, notes, over, GRID)
    assert told.sentence == sentence
    assert told.source


def test_borders():
    """Within half a beat of the change a note outside its chord is told as the other chord's, a note inside is not."""
    early = read([60, 71], "Fmaj7@0 G7@1")
    assert [(n.border, n.other) for n in early] == [("", ""), ("early", "3")]
    late = read([74, 71], "G7@0 Fmaj7@0.5")
    assert [(n.border, n.other) for n in late] == [("", ""), ("late", "3")]
    ahead = read_notes([Note(4.0, 0.5, 64, lean=-0.1)], changes("G7@0 Cmaj7@4"), GRID)[0]
    assert (ahead.degree, ahead.border, ahead.other) == ("3", "ahead", "13")


def test_times_out_of_order_are_refused_and_silence_is_read():
    with pytest.raises(ValueError, match="note 2 begins before note 1"):
        read_notes(melody([60, 62])[::-1], changes("C@0"), GRID)
    assert read_notes([], changes("C@0"), GRID) == ()
    silent = read([60], "NC@0")[0]
    assert (silent.degree, silent.semitones, silent.role) == (None, None, "rest")
    assert read([60], "C@4")[0].role == "rest"  # before the first chord


PITCHES = st.lists(st.integers(48, 84), min_size=1, max_size=40)
CHORDS = st.lists(
    st.sampled_from(["C", "Cmaj7", "C7", "Cm7", "C7alt", "Cm7b5", "Cdim7", "C6", "C7sus4"]), min_size=1, max_size=6
)
ROOTS = st.integers(0, 11)


def moved(symbol, semitones):
    return parse_symbol(symbol).symbol.transposed(
        NoteName("C").interval_to(NoteName.from_fifths((semitones * 7 + 5) % 12 - 5))
    )


@given(PITCHES, CHORDS, st.integers(0, 11), st.sampled_from([1, 2, 3, 7]))
def test_a_reading_is_the_same_in_every_key_and_in_every_bar(pitches, symbols, up, bars):
    notes = melody(pitches)
    here = [Change(4.0 * n, parse_symbol(s).symbol) for n, s in enumerate(symbols)]
    there = [Change(4.0 * (n + bars), moved(s, up)) for n, s in enumerate(symbols)]
    later = [Note(note.onset + 4.0 * bars, note.duration, note.midi + up) for note in notes]
    a, b = read_notes(notes, here, GRID), read_notes(later, there, GRID)
    same = [(n.degree, n.role, n.rule, n.target, n.border, n.other) for n in a]
    assert [(n.degree, n.role, n.rule, n.target, n.border, n.other) for n in b] == same


@given(PITCHES, CHORDS)
def test_what_every_reading_holds(pitches, symbols):
    notes = melody(pitches)
    over = [Change(4.0 * n, parse_symbol(s).symbol) for n, s in enumerate(symbols)]
    found = read_notes(notes, over, GRID)
    for n, note in zip(found, notes, strict=True):
        tones = tones_of(over[n.change].symbol)
        assert n.semitones == (note.midi - tones.root) % 12
        assert n.name.pc == note.midi % 12
        assert (n.role == "chord tone") == (n.semitones in tones.inside)
        assert n.role == RULES[n.rule].role
        if n.target is not None:
            target = found[n.target]
            assert target.role in ("chord tone", "delay") or n.rule.endswith("-tension")
        assert reason(found, n.note, notes, over, GRID).sentence
