"""Chord symbols against published tables and free oracles.

Sources: Harte, Sandler, Abdallah, Gómez, ISMIR 2005, table 1; mir_eval 0.8 `chord.encode` as a live oracle; music21
chords built from pitches (never from its text parser). Spellings that bands write are common practice, no single source.
"""

import mir_eval
import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import chord as m21chord

from tunes.harmony.chords import make_symbol, parse_symbol
from tunes.harmony.chords.vocabulary import KINDS
from tunes.harmony.pitch.spelling import MAJOR_KEYS, Interval, NoteName
from tunes.notation.harte import to_harte

C = NoteName("C")


def symbol(text):
    reading = parse_symbol(text)
    assert reading.problem is None, (text, reading.problem)
    assert reading.symbol is not None, text
    return reading.symbol


def above_root(chord):
    return {(tone.pc - chord.root.pc) % 12 for tone in chord.tones}


# Spellings of a public library's table of chords (semitones above the root as it lists them).
LIBRARY_SPELLINGS = {
    "CMadd9": {0, 4, 7, 2},
    "CMaddb9": {0, 4, 7, 1},
    "C+5": {0, 4, 8},
    "Co7M7": {0, 3, 6, 9, 11},
    "Cphryg": {0, 5, 7, 10, 1},
    "Cquartal": {0, 5, 10, 3},
    "CMa7": {0, 4, 7, 11},
    "C°7(maj7)": {0, 3, 6, 9, 11},
}


@pytest.mark.parametrize("text", LIBRARY_SPELLINGS)
def test_spellings_of_a_table_of_chords(text):
    chord = symbol(text)
    assert above_root(chord) == LIBRARY_SPELLINGS[text]
    assert symbol(chord.text) == chord


# Harte et al. 2005, table 1.
HARTE_TABLE = {
    "maj": "1 3 5", "min": "1 b3 5", "dim": "1 b3 b5", "aug": "1 3 #5", "maj7": "1 3 5 7", "min7": "1 b3 5 b7",
    "7": "1 3 5 b7", "dim7": "1 b3 b5 bb7", "hdim7": "1 b3 b5 b7", "minmaj7": "1 b3 5 7", "maj6": "1 3 5 6",
    "min6": "1 b3 5 6", "sus4": "1 4 5",
}  # fmt: skip


@pytest.mark.parametrize("shorthand", HARTE_TABLE)
def test_harte_shorthand(shorthand):
    chord = make_symbol(C, tuple(HARTE_TABLE[shorthand].split()))
    assert to_harte(chord) == f"C:{shorthand}"


# Handbook of the field: spellings of one chord, its degrees (common practice), and what Harte's definition makes of them.
SPELLINGS = [
    ("maj7 M7 ma7 Δ Δ7 Maj7 MA7 MAJ7 △ △7 ∆7 j7 major7 7M", "1 3 5 7", "maj7"),
    ("m7 -7 mi7 min7 MI7 −7 –7 minor7", "1 b3 5 b7", "min7"),
    ("ø ø7 m7b5 -7b5 m7♭5 −7♭5 m7-5 min7b5 m7(b5) -7(♭5) Ø7 half-dim half-diminished hdim7 h7", "1 b3 b5 b7", "hdim7"),
    ("°7 o7 dim7 º7 diminished7", "1 b3 b5 bb7", "dim7"),
    ("m(maj7) mM7 -Δ7 -Δ mΔ7 m(M7) minmaj7 m/maj7 -M7 mmaj7 min(maj7) m7M", "1 b3 5 7", "minmaj7"),
    ("6/9 69 6(9) 6add9 9/6 6,9", "1 3 5 6 9", "maj6(9)"),
    ("7b9 7♭9 7-9 7(b9) 7(♭9) 7/b9 (b9)", "1 3 5 b7 b9", "7(b9)"),
    ("7#9 7♯9 7+9 7(#9) 7b10", "1 3 5 b7 #9", "7(#9)"),
    ("7#11 7+11 7(#11) 7(♯11) 7#4", "1 3 5 b7 #11", "7(#11)"),
    ("13 13(9) 9(13)", "1 3 5 b7 9 13", "7(9,13)"),
    ("13#11 13(#11) 9(#11,13)", "1 3 5 b7 9 #11 13", "7(9,#11,13)"),
    ("+7 7+ 7#5 aug7 7+5 7aug 7(#5) 7aug5", "1 3 #5 b7", "7(*5,#5)"),
    ("7b5 7-5 7(b5) 7dim5 7♭5", "1 3 b5 b7", "7(*5,b5)"),
    ("7alt alt 7alt. 7(alt) 7altered +7alt", "1 3 b7 b9 #9 #11 b13", "7(*5,b9,#9,#11,b13)"),
    ("7sus 7sus4 sus7 7sus(4)", "1 4 5 b7", "sus4(b7)"),
    ("9sus 9sus4 sus9 11", "1 4 5 b7 9", "sus4(b7,9)"),
    ("13sus 13sus4 sus13", "1 4 5 b7 9 13", "sus4(b7,9,13)"),
    ("maj7#5 +M7 maj7+5 Δ#5 Δ7+ Δ+ +Δ7 +maj7", "1 3 #5 7", "maj7(*5,#5)"),
    ("maj7#11 Δ#11 maj7(#11) M7+11 maj(#11)", "1 3 5 7 #11", "maj7(#11)"),
    ("add9 add2 2 (add9) (9)", "1 3 5 9", "maj(9)"),
    ("madd9 m(add9) -add9 m2", "1 b3 5 9", "min(9)"),
    ("sus sus4 4 suspended4", "1 4 5", "sus4"),
    ("m -  mi min minor MI", "1 b3 5", "min"),
    ("M maj Maj major", "1 3 5", "maj"),
    ("+ aug (#5) augmented", "1 3 #5", "aug"),
    ("° dim o diminished m(b5)", "1 b3 b5", "dim"),
    ("m6 -6 mi6 min6", "1 b3 5 6", "min6"),
    ("m6/9 m69 -6/9", "1 b3 5 6 9", "min6(9)"),
    ("9 7(9) 7/9 7add9", "1 3 5 b7 9", "7(9)"),
    ("m9 -9 mi9 m7(9)", "1 b3 5 b7 9", "min7(9)"),
    ("m11 -11 m7(9,11)", "1 b3 5 b7 9 11", "min7(9,11)"),
    ("m13 -13", "1 b3 5 b7 9 11 13", "min7(9,11,13)"),
    ("m7(11) m7/11 m7add11 m7add4", "1 b3 5 b7 11", "min7(11)"),
    ("maj9 Δ9 M9 maj7(9)", "1 3 5 7 9", "maj7(9)"),
    ("maj13 Δ13 M13", "1 3 5 7 9 13", "maj7(9,13)"),
    ("7(b9,#11) 7b9#11 7(#11,b9) 7(b9#11) 7(b9/#11) 7(♭9,♯11) 7[b9,#11]", "1 3 5 b7 b9 #11", "7(b9,#11)"),
    ("7b9b13 7(b9,b13) 7♭9♭13", "1 3 5 b7 b9 b13", "7(b9,b13)"),
    ("7#5#9 7(#9,#5) +7#9 7+(#9)", "1 3 #5 b7 #9", "7(*5,#5,#9)"),
    ("13b9 13(b9) 7(b9,13)", "1 3 5 b7 b9 13", "7(b9,13)"),
    ("9#5 9+ +9 aug9", "1 3 #5 b7 9", "7(*5,#5,9)"),
    ("7sus4b9 7b9sus 7sus4(b9) 7susb9 sus(b9)", "1 4 5 b7 b9", "sus4(b7,b9)"),
    ("7(13) 7add13 7/6 7/13", "1 3 5 b7 13", "7(13)"),
    ("°(maj7) °Δ7 dim(maj7) °maj7", "1 b3 b5 7", "dim(7)"),
    ("ø9 m9b5 -9b5", "1 b3 b5 b7 9", "hdim7(9)"),
    ("sus2", "1 2 5", "(2,5)"),
    ("5 no3 (no3) omit3", "1 5", "(5)"),
    ("7no5 7(no5) 7omit5", "1 3 b7", "7(*5)"),
]  # fmt: skip
SPELLING_CASES = [(s, degrees, harte) for many, degrees, harte in SPELLINGS for s in many.split()]


@pytest.mark.parametrize(("suffix", "degrees", "harte"), SPELLING_CASES)
def test_spelling(suffix, degrees, harte):
    for root in ("C", "F#", "B♭"):
        chord = symbol(root + suffix)
        assert chord.degrees == tuple(degrees.split())
        assert to_harte(chord).split(":")[1] == harte


def test_nine_sus_is_a_minor_seventh_on_the_fifth_over_the_root():
    # 9sus = vm7/I (common practice): Gm7/C has the notes of C9sus4.
    assert symbol("Gm7/C").pcs | {0} == symbol("C9sus4").pcs


EVERY_SUFFIX = sorted({suffix for suffix, _, _ in SPELLING_CASES})


@pytest.mark.parametrize("suffix", EVERY_SUFFIX)
def test_mir_eval_hears_the_same_chord(suffix):
    """mir_eval.chord.encode: root, semitones above it, bass; extensions folded in as it is asked to."""
    for root in ("C", "Ab", "F#"):
        for slash in ("", "/Bb", "/E"):
            chord = symbol(root + suffix + slash)
            got_root, bitmap, bass = mir_eval.chord.encode(to_harte(chord), reduce_extended_chords=True)
            expected = above_root(chord)
            sounding = (chord.bass or chord.root).pc
            assert got_root == chord.root.pc
            assert {i for i, on in enumerate(bitmap) if on} == expected | {(sounding - chord.root.pc) % 12}
            assert bass == (sounding - chord.root.pc) % 12


@pytest.mark.parametrize(
    ("suffix", "test"),
    [
        ("", "isMajorTriad"), ("m", "isMinorTriad"), ("aug", "isAugmentedTriad"), ("dim", "isDiminishedTriad"),
        ("7", "isDominantSeventh"), ("m7b5", "isHalfDiminishedSeventh"), ("dim7", "isDiminishedSeventh"),
    ],
)  # fmt: skip
def test_music21_agrees_on_quality_and_root_from_the_spelled_notes(suffix, test):
    for key in MAJOR_KEYS:
        chord = symbol(key.tonic.text + suffix)
        theirs = m21chord.Chord([tone.text.replace("b", "-") for tone in chord.tones])
        assert getattr(theirs, test)()
        assert theirs.root().name.replace("-", "b") == chord.root.text


# Free oracles: identities of chord contents, true by construction of the scale (no source needed).
@pytest.mark.parametrize("key", MAJOR_KEYS)
def test_identities(key):
    root = key.tonic
    third_below = root - Interval.parse("m3")
    assert (
        make_symbol(root, KINDS["major-sixth"].degrees).pcs
        == make_symbol(third_below, KINDS["minor-seventh"].degrees).pcs
    )
    assert (
        make_symbol(root, KINDS["minor-sixth"].degrees).pcs
        == make_symbol(third_below, KINDS["half-diminished"].degrees).pcs
    )
    fourth = root + Interval.parse("P4")
    assert (
        make_symbol(root, KINDS["suspended-fourth"].degrees).pcs
        == make_symbol(fourth, KINDS["suspended-second"].degrees).pcs
    )
    for kind, step in (("diminished-seventh", "m3"), ("augmented", "M3")):
        up = root + Interval.parse(step)
        assert make_symbol(root, KINDS[kind].degrees).pcs == make_symbol(up, KINDS[kind].degrees).pcs


@pytest.mark.parametrize(
    ("kind", "keys"), [("major-seventh", 2), ("minor-seventh", 3), ("dominant", 1), ("half-diminished", 1)]
)
def test_diatonic_to_so_many_major_keys(kind, keys):
    pcs = make_symbol(C, KINDS[kind].degrees).pcs
    scales = [{(key.tonic.pc + step) % 12 for step in (0, 2, 4, 5, 7, 9, 11)} for key in MAJOR_KEYS]
    assert sum(pcs <= scale for scale in scales) == keys


SPELLED = [
    ("Db7", "Db F Ab Cb"), ("F#m7b5", "F# A C E"), ("G#dim7", "G# B D F"), ("Abdim7", "Ab Cb Ebb Gbb"),
    ("Gbmaj7", "Gb Bb Db F"), ("C#7", "C# E# G# B"), ("Eb7b9", "Eb G Bb Db Fb"), ("B7#9", "B D# F# A C##"),
    ("Bb7#5", "Bb D F# Ab"), ("E7alt", "E G# D F F## A# C"), ("Dbm(maj7)", "Db Fb Ab C"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "notes"), SPELLED)
def test_tones_are_spelled_by_degree(text, notes):
    assert [tone.text for tone in symbol(text).tones] == notes.split()


REFUSED = [
    ("cm7", "Cm7"), ("bb7", "Bb7"), ("f#m7b5", "F#m7b5"), ("Hm7", "Bm7"), ("Es7", "Eb7"), ("As", "Ab"),
    ("Fis7", "F#7"), ("Sol7", "G7"), ("Sib7", "Bb7"), ("La-7", "A-7"), ("Cmja7", "Cmaj7"), ("Cmj7", "Cmaj7"),
    ("C7xyz", "C7"), ("C/3", "C/E"), ("C/bb", "C/Bb"), ("C7/h", ""), ("C/H", "C/B"), ("C+11", "C7#11"),
    ("C-5", "C(b5)"), ("Cm7alt", ""), ("C7/3", ""), ("", "N.C."), ("X7", ""), ("Cmaj7b7", ""), ("Csuss", "Csus4"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "advice"), REFUSED)
def test_what_cannot_be_read_says_what_to_type(text, advice):
    reading = parse_symbol(text)
    assert reading.symbol is None
    assert reading.problem is not None
    if advice:
        assert reading.problem.suggestion == advice
    if reading.problem.suggestion:
        again = parse_symbol(reading.problem.suggestion)
        assert again.problem is None, f"the advice {reading.problem.suggestion} cannot be read itself"
    assert 0 <= reading.problem.start <= reading.problem.end <= len(text)


@pytest.mark.parametrize("text", ["N.C.", "NC", "n.c.", "N.C", "No Chord", "nc"])
def test_no_chord(text):
    reading = parse_symbol(text)
    assert reading.symbol is None
    assert reading.ok


AMBIGUOUS = [
    ("C2", "Cadd9"), ("C11", "C9sus4"), ("C°", "Cdim"), ("C-9", "Cm9"), ("C+9", "C9#5"), ("C(b9)", "C7b9"),
    ("Cb9", "Cb9"), ("C4", "Csus4"), ("D/C7", "C13#11"), ("Cm7sus4", "C7sus4"), ("(C7)", "C7"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "meaning"), AMBIGUOUS)
def test_ambiguous_spellings_are_settled_with_a_remark(text, meaning):
    reading = parse_symbol(text)
    assert reading.symbol is not None
    assert reading.symbol.text == meaning
    assert reading.remarks


UPPER = [
    ("D/C7", "C13#11"),
    ("Eb/C7", "C7#9"),
    ("Gb/C7", "C7(b9,#11)"),
    ("Ab/C7", "C7(#9,b13)"),
    ("A/C7", "C13b9"),
]


@pytest.mark.parametrize(("text", "meaning"), UPPER)
def test_upper_structure_triads(text, meaning):
    # Common practice, no source: a triad over a seventh chord is the sum of their notes.
    assert symbol(text).text == meaning


def test_upper_structure_that_clashes_is_refused():
    assert parse_symbol("E/C7").problem is not None


DISPLAY = [
    ("Cm7b5", "Cø7", "C half diminished"), ("Db7(b9,#11)", "D♭7(♭9,♯11)", "D flat 7 flat 9 sharp 11"),
    ("Ebmaj7", "E♭maj7", "E flat major 7"), ("F#dim7", "F♯°7", "F sharp diminished 7"),
    ("Bbm7/Ab", "B♭m7/A♭", "B flat minor 7 over A flat"), ("Caug", "C+", "C augmented"),
    ("C13sus4", "C13sus4", "C 13 suspended 4"), ("Cm(maj7)", "Cm(maj7)", "C minor major 7"),
    ("C7(no3)", "C7(no3)", "C 7 without 3"), ("Cadd9", "Cadd9", "C major add 9"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "display", "spoken"), DISPLAY)
def test_display_and_spoken(text, display, spoken):
    chord = symbol(text)
    assert (chord.text, chord.display, chord.spoken) == (text, display, spoken)
    assert chord.display_parts.text == chord.display


def test_guide_tones_use_6_for_7_and_4_for_3():
    # Common practice, no source.
    assert [(symbol(t).third.text, symbol(t).seventh.text) for t in ("C6", "G7sus4", "Dm7", "Bdim7")] == [
        ("E", "A"), ("C", "F"), ("F", "C"), ("D", "Ab"),
    ]  # fmt: skip


# --- properties ---

DEGREES = st.sets(
    st.sampled_from(
        [
            "1",
            "2",
            "b3",
            "3",
            "4",
            "b5",
            "5",
            "#5",
            "6",
            "bb7",
            "b7",
            "7",
            "b9",
            "9",
            "#9",
            "11",
            "#11",
            "b13",
            "13",
        ]
    ),
    min_size=1,
    max_size=9,
)
ROOTS = st.builds(NoteName, st.sampled_from("ABCDEFG"), st.integers(-2, 2))


def _one_of_each(degrees):
    """One seventh at most: no symbol says two."""
    sevenths = [d for d in ("7", "b7", "bb7") if d in degrees]
    return degrees - set(sevenths[1:])


@given(ROOTS, DEGREES.map(_one_of_each), st.none() | ROOTS)
def test_any_chord_survives_its_own_text(root, degrees, bass):
    chord = make_symbol(root, degrees, bass)
    reading = parse_symbol(chord.text)
    assert reading.symbol == chord, chord.text
    shown = parse_symbol(chord.display)
    assert shown.symbol == chord, chord.display


@given(st.text(max_size=80))
def test_never_raises_on_any_text(text):
    reading = parse_symbol(text)
    assert (reading.symbol is None) or (reading.problem is None)


@given(st.text("ABCDEFGHabcdefgmMjinosu#b♭♯°øΔ+-−/()., 0123456789altdhy%|^[]", max_size=14))
def test_never_raises_on_chordlike_text(text):
    reading = parse_symbol(text)
    if reading.symbol is not None:
        assert parse_symbol(reading.symbol.text).symbol == reading.symbol
    if reading.problem is not None and reading.problem.suggestion:
        assert parse_symbol(reading.problem.suggestion).problem is None


@given(ROOTS, DEGREES, st.integers(-11, 11))
def test_transposing_there_and_back(root, degrees, fifths):
    chord = make_symbol(root, degrees)
    interval = C.interval_to(NoteName.from_fifths(fifths))
    assert chord.transposed(interval).transposed(-interval) == chord
    assert chord.transposed(interval).degrees == chord.degrees
