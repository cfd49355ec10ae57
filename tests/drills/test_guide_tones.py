"""Guide tones against the handbook's table and exact bounds, and against every line there is."""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drills.lines import guide_tones as gt
from drills.lines.compass import compass_of
from drills.lines.passage import passage
from studio.instruments import INSTRUMENTS
from tests.drills.studies import ROOTS, chart, progressions, symbol
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import Pitch

# Common practice (handbook of check values, table of guide tones): 3rds and 7ths of usual progressions, in C.
TABLE = [
    ("Dm7 G7 Cmaj7", "3", "F F E"), ("Dm7 G7 Cmaj7", "7", "C B B"),
    ("Dm7b5 G7 Cm7", "3", "F F Eb"), ("Dm7b5 G7 Cm7", "7", "C B Bb"),
    ("Dm7 Db7 Cmaj7", "3", "F F E"), ("Dm7 Db7 Cmaj7", "7", "C Cb B"),
    ("E7 A7 D7 G7", "3", "G# G F# F"), ("E7 A7 D7 G7", "7", "D C# C B"),
    ("Fm7 Bb7 Cmaj7", "3", "Ab Ab G"), ("Fm7 Bb7 Cmaj7", "7", "Eb D E"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "start", "line"), TABLE)
def test_table_of_guide_tones(changes: str, start: str, line: str) -> None:
    found = gt.smoothest([symbol(text) for text in changes.split()], start)
    assert " ".join(tones[0].name.text for tones in found.tones if tones) == line


def test_two_voices_play_both_lines_of_a_cadence() -> None:
    found = gt.smoothest([symbol(text) for text in ["Dm7", "G7", "Cmaj7"]], "3", voices=2)
    assert [tuple(tone.name.text for tone in tones) for tones in found.tones if tones] == [
        ("F", "C"), ("F", "B"), ("E", "B"),
    ]  # fmt: skip


def every_line(symbols: list[ChordSymbol], start: str) -> int:
    """The least movement of all lines that obey the swap of roles in falling fifths, found by trying them all."""
    layers = [gt.options(here, symbols[i - 1] if i else None) for i, here in enumerate(symbols)]
    third, seventh = gt.guide_tones_of(symbols[0])
    if start:
        layers[0] = (third if start == "3" else seventh,)
    costs = [
        sum(abs(gt.move(a.name, b.name)) for a, b in pairwise(path))
        for path in product(*layers)
        if all(gt.may_follow(symbols[i], a, symbols[i + 1], b) for i, (a, b) in enumerate(pairwise(path)))
    ]
    return min(costs)


@given(progressions, st.sampled_from(["", "3", "7"]))
def test_no_line_is_smoother(symbols: list[ChordSymbol], start: str) -> None:
    assert gt.smoothest(symbols, start).movement == every_line(symbols, start)


@given(progressions)
def test_two_voices_never_meet_and_are_the_smoothest_pair(symbols: list[ChordSymbol]) -> None:
    found = gt.smoothest(symbols, voices=2)
    assert all(tones and tones[0] != tones[1] for tones in found.tones)
    one, other = (sum(abs(gt.move(a[v].name, b[v].name)) for a, b in pairwise(found.tones) if a and b) for v in (0, 1))
    assert one + other == found.movement


@given(progressions)
def test_the_optimum_never_moves_more_than_the_greedy_line(symbols: list[ChordSymbol]) -> None:
    for start in ("3", "7"):
        assert gt.smoothest(symbols, start).movement <= gt.greedy_movement(symbols, start)


SEVENTH_CHORDS = ("maj7", "m7", "7", "m7b5", "m(maj7)", "7b9", "13", "maj9")


@given(st.sampled_from(ROOTS), st.lists(st.sampled_from(SEVENTH_CHORDS), min_size=2, max_size=8))
def test_falling_fifths_move_within_the_exact_bounds(root: str, kinds: list[str]) -> None:
    """Exact (handbook, bounds of guide-tone motion): 3rd to 7th by −1, 0, +1; 7th to 3rd by −1, −2, −3."""
    names = [symbol(root + "7").root]
    for _ in kinds[1:]:
        names.append(names[-1] + symbol("C7").root.interval_to(symbol("F7").root))
    symbols = [symbol(f"{name.text}{kind}") for name, kind in zip(names, kinds, strict=True) if abs(name.alter) < 3]
    for start in ("3", "7"):
        found = gt.smoothest(symbols, start)
        for index, (a, b) in enumerate(pairwise(found.tones)):
            assert a
            assert b
            step = gt.move(a[0].name, b[0].name)
            if a[0] == gt.third_of(symbols[index]):
                assert step in (-1, 0, 1)
            else:
                assert step in (-1, -2, -3)
                from_major_seventh = a[0].degree == "7" and b[0].degree == "b3"
                assert (step == -3) == from_major_seventh


# Common practice: what stands for a 3rd or a 7th that a chord does not have.
STAND_INS = [
    ("C6", "E A"), ("Cm6", "Eb A"), ("C7sus4", "F Bb"), ("Csus4", "F C"), ("C", "E C"), ("Cdim7", "Eb Bbb"),
    ("C5", "G C"), ("Cm7/F", "Eb Bb"), ("C7alt", "E Bb"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "tones"), STAND_INS)
def test_stand_ins(text: str, tones: str) -> None:
    assert " ".join(tone.name.text for tone in gt.guide_tones_of(symbol(text))) == tones


def test_stand_ins_are_said_with_their_bars() -> None:
    part = passage(chart("| C6 | Gm7 C7sus4 | F/A | N.C. |"))
    texts = dict(gt.said(part))
    assert texts["On sixth chords the 6th stands for the 7th"] == [1]
    assert texts["On suspended chords the 4th stands for the 3rd"] == [2]
    assert texts["Without a 7th the root stands in"] == [3]
    assert texts["Over another bass the guide tones are those of the chord, not of the bass"] == [3]
    assert texts["No chord: the line rests"] == [4]


PLAYERS = ["alto-sax", "tenor-sax", "trumpet", "trombone", "bass", "guitar", "piano", "flute"]


@pytest.mark.parametrize("key", PLAYERS)
@given(symbols=progressions)
def test_every_guide_tone_lies_in_the_easy_range_and_none_leaps_into_a_chord(
    key: str, symbols: list[ChordSymbol]
) -> None:
    """A line changes octave while a chord is held, never on its way into the next (common practice, no source)."""
    compass = compass_of(INSTRUMENTS[key])
    part = passage(chart("| " + " | ".join(s.text for s in symbols) + " |"))
    spans = part.spans
    line = gt.smoothest([span.symbol for span in spans])
    before: Pitch | None = None
    for span, placed in zip(spans, gt.pitches(line, spans, compass), strict=True):
        assert placed is not None
        assert all(compass.fits(pitch) for pitch in (*placed.first, *placed.then))
        assert placed.first[0].name == placed.then[0].name
        assert placed.turn is None or span.start < placed.turn < span.end
        assert before is None or abs(placed.first[0].midi - before.midi) <= 6
        before = placed.then[0]


@given(symbols=progressions)
def test_two_voices_do_not_leap_into_a_chord_either(symbols: list[ChordSymbol]) -> None:
    spans = passage(chart("| " + " | ".join(s.text for s in symbols) + " |")).spans
    placed = gt.pitches(
        gt.smoothest([span.symbol for span in spans], voices=2), spans, compass_of(INSTRUMENTS["alto-sax"])
    )
    for one, other in pairwise(placed):
        assert one is not None
        assert other is not None
        assert all(abs(a.midi - b.midi) <= 6 for a, b in zip(one.then, other.first, strict=True))


def test_a_held_chord_turns_where_it_is_written_again_or_at_its_middle() -> None:
    part = passage(chart("| Dm7 | % | % | G7 | Cmaj7 A7 |"))
    assert [gt.turning_point(span) for span in part.spans] == [4, 14, 17, 19]
    quick = passage(chart("| Dm7 G7 Em7 A7 |"))
    assert [gt.turning_point(span) for span in quick.spans] == [None] * 4
