"""The band: every rule of the bass, the piano and the drums over generated charts in every style.

Rules of walking bass and of voicings: common practice, no single source. Swing: Friberg and Sundström, TMH-QPSR 4/1997 (abstract).
"""

from __future__ import annotations

import io
from fractions import Fraction
from itertools import pairwise

import mido
import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drills.band import bass, comping
from drills.band.chorus import Chorus, bass_as_line, piano_as_line, play_chorus
from drills.band.exchange import to_midi
from drills.band.feel import swing_ratio, swung
from drills.band.styles import DRUMS, STYLES, Style
from drills.bands import swings
from drills.engraving import render
from drills.lines.guide_tones import guide_tones_of
from drills.lines.passage import passage
from drills.mei import to_mei
from drills.musicxml import to_musicxml
from tests.drills.lines import plain_scales
from tests.drills.studies import FORM, chart, symbols
from tunes.harmony.chords import ChordSymbol
from tunes.models import Tune
from tunes.study import study_of_text

METRES = {Fraction(4): "4/4", Fraction(3): "3/4", Fraction(5): "5/4", Fraction(7): "7/4"}


def chorus_of(style: Style, changes: list[ChordSymbol], seed: str, halves: bool = False) -> Chorus:
    """A chorus over invented bars, one or two chords to a bar."""
    texts = [one.text for one in changes]
    bars = (
        [f"{texts[i]} / {texts[i + 1]} /" for i in range(0, len(texts) - 1, 2)]
        if halves and style.length == 4
        else texts
    )
    read = chart(f"metre: {METRES[style.length]}\n| " + " | ".join(bars) + " |")
    return play_chorus(passage(read), style, plain_scales(None), seed)


@pytest.mark.parametrize(
    ("feel", "metre", "swing"),
    [
        ("medium swing", "4/4", True), ("", "4/4", True), ("bossa", "4/4", False), ("even eighths", "4/4", False),
        ("jazz waltz", "3/4", True),
    ],
)  # fmt: skip
def test_a_drill_swings_where_the_band_does(feel: str, metre: str, swing: bool) -> None:
    """Before, the player of a drill began even on every tune, and that of a line swung."""
    study = study_of_text(f"metre: {metre}\nkey: C\n| Dm7 | G7 | Cmaj7 |")
    assert swings(Tune(feel=feel), study) is swing


changes = st.lists(symbols, min_size=2, max_size=12)


@pytest.mark.parametrize("style", STYLES.values(), ids=lambda style: style.id)
@given(symbols=changes, seed=st.text("ab", max_size=3), halves=st.booleans())
def test_the_rules_of_the_bass(style: Style, symbols: list[ChordSymbol], seed: str, halves: bool) -> None:
    found = chorus_of(style, symbols, seed, halves)
    notes = found.bass
    steps = bass.places(found.passage, style)
    assert len(notes) == len(steps)
    for note, step in zip(notes, steps, strict=True):
        assert note.pitch
        assert bass.LOW <= note.pitch.midi <= bass.HIGH
        if step.opens:
            assert note.pitch.name == bass.bass_of(step.chord), "root, or the chart's own bass, where a chord begins"
    heights = [note.pitch.midi for note in notes if note.pitch]
    assert all(abs(a - b) <= 12 for a, b in pairwise(heights)), "no leap over an octave"
    if style.walks:
        assert all(a != b for a, b in pairwise(heights)), "no note twice running"
    for (one, here), (_, there) in pairwise(zip(notes, steps, strict=True)):
        if there.opens and not here.opens and one.pitch:
            goal = bass.bass_of(there.chord).pc
            assert (one.pitch.midi - goal) % 12 in (1, 2, 5, 7, 10, 11), "the last note leads to the next root"


@pytest.mark.parametrize("style", STYLES.values(), ids=lambda style: style.id)
@given(symbols=st.lists(symbols, min_size=1, max_size=3), seed=st.text("ab", max_size=3))
def test_no_bar_of_the_bass_is_played_twice_running(style: Style, symbols: list[ChordSymbol], seed: str) -> None:
    held = [one for one in symbols for _ in range(3)]
    found = chorus_of(style, held, seed)
    bars = [
        [(note.start - bar.start, note.pitch) for note in found.bass if bar.start <= note.start < bar.end]
        for bar in found.passage.bars
    ]  # fmt: skip
    assert all(one != other for one, other in pairwise(bars))


@pytest.mark.parametrize("style", STYLES.values(), ids=lambda style: style.id)
@given(symbols=changes, seed=st.text("ab", max_size=3), halves=st.booleans())
def test_the_rules_of_the_piano(style: Style, symbols: list[ChordSymbol], seed: str, halves: bool) -> None:
    found = chorus_of(style, symbols, seed, halves)
    by_event = {chord.event: chord for chord in found.passage.chords}
    assert {voiced.event for voiced in found.piano} >= {
        chord.event for chord in found.passage.chords if chord.duration >= 2
    } - {0}
    for voiced in found.piano:
        heard = by_event[voiced.event].symbol
        assert heard
        midi = [pitch.midi for pitch in voiced.pitches]
        assert midi == sorted(set(midi))
        assert midi[0] >= comping.LOW
        assert midi[-1] <= comping.HIGH
        wanted = {tone.name.pc for tone in guide_tones_of(heard)}
        assert wanted <= {pitch.name.pc for pitch in voiced.pitches}, "3rd and 7th are kept"
    for one, other in pairwise(found.piano):
        assert one.start + one.length <= other.start
        if len(one.pitches) == len(other.pitches):
            centre = sum(a.midi - b.midi for a, b in zip(one.pitches, other.pitches, strict=True)) / len(one.pitches)
            assert abs(centre) <= 7, "voicings move little"


@pytest.mark.parametrize("style", STYLES.values(), ids=lambda style: style.id)
def test_the_same_seed_is_the_same_chorus_and_another_seed_another(style: Style) -> None:
    symbols = [one.symbol for one in passage(chart(FORM)).chords if one.symbol][:16]
    assert chorus_of(style, symbols, "1") == chorus_of(style, symbols, "1")
    assert chorus_of(style, symbols, "1").bass != chorus_of(style, symbols, "2").bass


def test_the_charts_own_bass_is_played() -> None:
    found = chorus_of(
        STYLES["four"], [one.symbol for one in passage(chart("| C/E | F | Cm7/Bb |")).chords if one.symbol], "1"
    )
    opening = [
        note.pitch.name.text
        for note, step in zip(found.bass, bass.places(found.passage, found.style), strict=True)
        if step.opens and note.pitch
    ]
    assert opening == ["E", "F", "Bb"]


def test_silence_is_kept_and_a_bar_of_another_length_gets_its_beats() -> None:
    read = chart("metre: 4/4\n| Dm7 | N.C. | 2/4 G7 | 4/4 Cmaj7 |")
    found = play_chorus(passage(read), STYLES["four"], plain_scales(None), "1")
    bars = found.passage.bars
    counts = [sum(bar.start <= note.start < bar.end for note in found.bass) for bar in bars]
    assert counts == [4, 0, 2, 4]
    assert not any(bars[1].start <= voiced.start < bars[1].end - comping.HALF_BEAT for voiced in found.piano)
    assert [stroke.what for at, stroke in found.drums if bars[2].start <= at < bars[2].end] == ["ride", "ride"]


@pytest.mark.parametrize(("tempo", "ratio"), [(120, 3.5), (200, 2.0), (300, 1.0), (340, 1.0)])
def test_swing_narrows_with_the_tempo(tempo: int, ratio: float) -> None:
    """Friberg and Sundström 1997: 3.5 to 1 near 120, even at fast tempi, the short note about 100 ms between."""
    assert swing_ratio(tempo) == pytest.approx(ratio)


@given(st.floats(50, 340), st.integers(0, 63))
def test_swing_keeps_beats_and_order(tempo: float, half_beats: int) -> None:
    ratio = swing_ratio(tempo)
    places = [swung(half / 2, ratio) for half in range(half_beats + 2)]
    assert places == sorted(places)
    assert places[::2] == [float(beat) for beat in range(len(places[::2]))]
    short = (1 - ratio / (1 + ratio)) * 60 / tempo
    assert tempo < 120 or tempo > 290 or short == pytest.approx(0.1, abs=0.012)


def test_a_chorus_goes_out_as_midi_and_lines_as_musicxml_and_staff() -> None:
    found = play_chorus(passage(chart(FORM)), STYLES["four"], plain_scales(None), "1")
    midi = mido.MidiFile(file=io.BytesIO(to_midi(found, tempo=200, title="Test")))
    sounds = [[m for m in track if m.type == "note_on" and m.velocity] for track in midi.tracks]
    assert [len(track) for track in sounds] == [
        0,
        len(found.bass),
        sum(len(v.pitches) for v in found.piano),
        len(found.drums),
    ]
    assert {m.note for m in sounds[3]} <= set(DRUMS.values())
    for line in (bass_as_line(found, "Bass"), piano_as_line(found, "Piano")):
        part = music21.converter.parseData(to_musicxml(line), format="musicxml").parts[0].stripTies()
        heads = sorted(
            p.midi for n in part.recurse().notes if not isinstance(n, music21.harmony.ChordSymbol) for p in n.pitches
        )
        assert heads == sorted(p.midi for n in line.notes if n.pitch for p in (n.pitch, *n.stack))
        assert "<svg" in render(to_mei(line))
