"""A take against its line. First pairs of events and notes without any sound, then tones made by arithmetic.

What is counted as right follows the definitions of MIREX as mir_eval has them (Raffel et al., ISMIR 2014): an onset within
50 ms, a pitch within 50 cents; frames within 50 cents for the melody.
"""

from __future__ import annotations

import io
import json
import random
from dataclasses import replace
from fractions import Fraction
from typing import Any

import av
import mir_eval
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drills.hearing import tracker
from drills.hearing.alignment import align
from drills.hearing.expected import CannotBeHeard, Score, score_of
from drills.hearing.extra import NotInstalled, available
from drills.hearing.judge import LEAK, NO_MATCH, NOTHING, judge
from drills.hearing.naming import spelled
from drills.hearing.result import Advice
from drills.hearing.solo import first_note, heard_notes, notes_of
from drills.hearing.sound import STEP, Event, Frames, Sound
from drills.lines.line import Line, LineBar, LineChord, LineNote
from tests import tones as t
from tests.drills.studies import symbol
from tunes.harmony.charts.bars import Metre
from tunes.harmony.pitch.spelling import Interval, Key, Pitch
from tunes.samples import blocks_of

BARS = [(4.0 * n, 4.0) for n in range(8)]
QUAVERS = [(0.5 * n, 0.5, midi) for n, midi in enumerate((60, 62, 64, 65, 67, 65, 64, 62) * 8)]
CROTCHETS = [(1.0 * n, 1.0, midi) for n, midi in enumerate((60, 64, 67, 70, 69, 65, 62, 59) * 4)]


def score(notes: list[tuple[float, float, int]] = CROTCHETS, **more: float) -> Score:
    return score_of(notes, BARS, tempo=more.pop("tempo", 120.0), **more)  # type: ignore[arg-type]


def sound(events: list[tuple[float, float, float]], level: float = -20.0) -> Sound:
    """Frames and events as a faultless tracker gives them: (start, length in seconds, MIDI number)."""
    times = np.arange(int((max(start + length for start, length, _ in events) + 1) / STEP)) * STEP
    midi, sure, loud = np.full(len(times), 60.0), np.zeros(len(times)), np.full(len(times), -70.0)
    for start, length, pitch in events:
        inside = (times >= start) & (times < start + length)
        midi[inside], sure[inside], loud[inside] = pitch, 0.95, level
    made = tuple(Event(start, start + length, pitch, 0.95, level) for start, length, pitch in events)
    return Sound(Frames(times, midi, sure, loud), made)


def as_played(wanted: Score, begins: float = 2.0, off: float = 0.0) -> list[tuple[float, float, float]]:
    return [
        (begins + second, 0.9 * note.length * wanted.beat, note.midi + off)
        for second, note in zip(wanted.seconds, wanted.notes, strict=True)
    ]


def words(advice: Advice) -> dict[int, str]:
    """Place in the take → what is said of it, for all that is not plainly as written."""
    said = {
        place: note.timing or ("" if note.verdict == "as-written" else note.verdict)
        for place, note in enumerate(advice.notes)
    }
    return {place: word for place, word in said.items() if word}


def judged(events: list[tuple[float, float, float]], wanted: Score, **more: object) -> Advice:
    return judge(sound(events), wanted, lambda _index, midi: str(midi), begins=2.0, **more)  # type: ignore[arg-type]


def test_what_was_planted_is_what_is_said() -> None:
    wanted = score()
    events = as_played(wanted)
    events[5] = (*events[5][:2], events[5][2] - 1)  # another note
    events[20] = (events[20][0] + 0.15, 0.3, events[20][2])  # late
    events[25] = (events[25][0] - 0.15, 0.3, events[25][2])  # early
    events[27] = (*events[27][:2], events[27][2] + 0.2)  # 20 cents sharp
    del events[12]
    advice = judged(events, wanted)
    assert words(advice) == {5: "another", 12: "not-heard", 20: "late", 25: "early"}
    assert advice.notes[5].midi == wanted.notes[5].midi - 1
    assert advice.notes[20].off_ms == pytest.approx(150, abs=5)
    assert [place for place, note in enumerate(advice.notes) if abs(note.cents or 0) >= 3] == [27]
    assert advice.notes[27].cents == 20


@pytest.mark.parametrize(
    ("name", "change", "reads"),
    [
        ("everything late is the take's own", lambda a: (a[0] + 0.2, a[1], a[2]), {"latency": 0.2}),
        ("a slower tempo", lambda a: (2 + (a[0] - 2) * 1.08, a[1], a[2]), {"tempo": 111.1}),
        ("a faster tempo", lambda a: (2 + (a[0] - 2) * 0.9, a[1] * 0.8, a[2]), {"tempo": 133.3}),
        ("a tempo that goes up", lambda a: (2 + (a[0] - 2) * (1 - 0.003 * (a[0] - 2)), a[1] * 0.8, a[2]), {}),
        ("tuned 30 cents low", lambda a: (a[0], a[1], a[2] - 0.3), {"tuning": -30}),
        ("an octave higher", lambda a: (a[0], a[1], a[2] + 12), {"shift": 12}),
        ("a whole step low: another instrument", lambda a: (a[0], a[1], a[2] - 2), {"shift": -2}),
    ],
)
def test_what_belongs_to_the_whole_take_is_no_fault_of_a_note(name, change, reads) -> None:  # type: ignore[no-untyped-def]
    wanted = score(QUAVERS)
    advice = judged([change(one) for one in as_played(wanted)], wanted)
    assert words(advice) == {}, name
    for what, value in reads.items():
        assert getattr(advice, what) == pytest.approx(value, abs=0.011 * abs(value) + 0.01), name


def test_the_takes_own_swing_is_read_and_makes_nothing_late() -> None:
    """Two to one at 120: the half beat comes 83 ms after the straight one. Against even quavers that is its swing."""
    straight, swung = score(QUAVERS), score(QUAVERS, swing=2.0)
    for wanted in (straight, swung):
        advice = judged(as_played(swung), wanted)
        assert words(advice) == {}
        assert advice.swing == pytest.approx(2.0, abs=0.05)


def test_repeats_that_are_slurred_are_heard_and_a_missing_one_is_not() -> None:
    """The tracker hears one long note where equal notes are slurred; silence is something else."""
    notes = [(1.0 * n, 1.0, (60, 60, 64, 67)[n % 4]) for n in range(32)]
    wanted = score(notes)
    played = as_played(wanted)
    slurred = [
        (played[n][0], 0.95, 60.0) if n % 4 == 0 else played[n] for n in range(32) if n % 4 != 1
    ]  # one event for two notes
    assert words(judged(slurred, wanted)) == {}
    slurred[6] = (slurred[6][0], 0.45, 60.0)  # the third pair: its second note is not played
    assert words(judged(slurred, wanted)) == {9: "not-heard"}


@pytest.mark.parametrize("octave", [12, 24])
def test_a_slip_to_another_octave_is_the_trackers_and_an_octave_played_is_the_players(octave: int) -> None:
    wanted = score()
    played = as_played(wanted)
    start, length, midi = played[6]
    slip = [*played[:6], (start, 0.08, midi + octave), (start + 0.08, length - 0.08, midi), *played[7:]]
    assert words(judged(slip, wanted)) == {}
    if octave == 12:
        whole = [*played[:6], (start, length, midi + octave), *played[7:]]
        assert words(judged(whole, wanted)) == {6: "another"}


def test_where_the_form_was_lost_and_where_the_time_drifted() -> None:
    notes = [(1.0 * n, 1.0, 55 + (7 * n * n + 3 * n) % 19) for n in range(64)]
    wanted = score_of(notes, [(4.0 * n, 4.0) for n in range(16)], tempo=120)
    played = as_played(wanted)
    lost = [one if not 32 <= n < 48 else (one[0] + 1.0, *one[1:]) for n, one in enumerate(played)]  # two beats late
    advice = judged([*lost[:46], *lost[48:]], wanted, fixed=True)
    assert {bar.bar for bar in advice.bars if bar.lost} >= {9, 10}
    assert not any(bar.lost for bar in advice.bars if bar.bar < 7 or bar.bar > 12)
    assert set(advice.choruses[0].lost) == {bar.bar for bar in advice.bars if bar.lost}
    drifting = [one if not 32 <= n < 48 else (one[0] + 0.17, *one[1:]) for n, one in enumerate(played)]
    advice = judged(drifting, wanted, fixed=True)
    assert {9, 10} <= {bar.bar for bar in advice.bars if bar.drifted} <= {7, 8, 9, 10, 11, 12}
    assert [bar.ahead for bar in advice.bars if bar.bar == 9] == [pytest.approx(-0.34, abs=0.03)]


def test_choruses_are_counted() -> None:
    wanted = score_of(CROTCHETS, BARS, tempo=120, choruses=3)
    played = as_played(wanted)
    del played[40:44]
    advice = judged(played, wanted)
    assert [(one.chorus, one.written, one.right) for one in advice.choruses] == [(1, 32, 32), (2, 32, 28), (3, 32, 32)]
    assert {(note.chorus, note.bar) for note in advice.notes if note.verdict == "not-heard"} == {(2, 2)}
    assert advice.choruses[0].tempo == pytest.approx(120, abs=0.5)


def test_it_declines_and_says_what_to_do() -> None:
    wanted = score()
    played = as_played(wanted)
    level = -20.0
    for leak, state in ((None, "heard"), (level - 26, "heard"), (level - 24, "declined"), (level - 12, "declined")):
        advice = judged(played, wanted, leak_level=leak)
        assert advice.state == state, leak
        assert advice.reason == (LEAK if state == "declined" else "")
        assert advice.leak_db == (None if leak is None else pytest.approx(leak - level, abs=0.1))
    assert judged(played[:1], wanted).reason == NOTHING
    other = [(start, length, 40.0 + (n * n * 7) % 31) for n, (start, length, _) in enumerate(played)]
    assert judged([(2 + n * 0.37, 0.3, one[2]) for n, one in enumerate(other)], wanted).reason == NO_MATCH


@pytest.mark.parametrize(
    ("notes", "reason"),
    [
        ([], "no notes"),
        ([(0.0, 1.0, 60), (0.0, 1.0, 64)], "one note at a time"),
        ([(0.0, 2.0, 60), (1.0, 1.0, 64)], "one note at a time"),
        ([(0.0, 1.0, 29)], "below F♯1"),
    ],
)
def test_what_it_cannot_hear_is_said(notes: list[tuple[float, float, int]], reason: str) -> None:
    with pytest.raises(CannotBeHeard, match=reason):
        score(notes)
    assert score([(0.0, 1.0, 30)]).notes[0].midi == 30  # F sharp 1 itself


def test_advice_is_stored_and_read_again() -> None:
    wanted = score()
    advice = judged(as_played(wanted)[3:], wanted)
    kept = json.loads(json.dumps(advice.to_json()))
    assert Advice.of_json(kept) == advice
    assert Advice.of_json({**kept, "of_a_later_day": 1}) == advice
    for version in (None, 0, 99, "1"):
        with pytest.raises(ValueError, match="shape"):
            Advice.of_json({**kept, "version": version})


def line_over(chord: str, key: str, note: str, shift: str = "P1") -> Line:
    bar = LineBar(1, Metre(4, 4), Fraction(0), Fraction(4))
    return Line(
        "arpeggios", "A line", Key.parse(key), (bar,), (LineChord(0, symbol(chord), Fraction(0), Fraction(4)),),
        (LineNote(Pitch.parse(note), Fraction(0), Fraction(4), 0),), shift=Interval.parse(shift),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("chord", "key", "wanted", "shift", "midi", "printed"),
    [
        ("C7", "C", "B4", "P1", 70, "Bb4"),  # a chord tone keeps the chord's letter
        ("C#dim7", "C", "A4", "P1", 70, "Bb4"),
        ("F#7", "B", "B4", "P1", 70, "A#4"),
        ("Ebmaj7", "Eb", "G4", "P1", 68, "Ab4"),  # then the signature's
        ("E7", "A", "A4", "P1", 68, "G#4"),
        ("Cmaj7", "C", "G4", "P1", 66, "F#4"),  # then as the key has it on the line of fifths
        ("Fm7", "Ab", "Bb4", "P1", 71, "B4"),
        ("D7", "G", "A4", "M2", 67, "A4"),  # heard a whole step below what is printed for a B flat instrument
    ],
)
def test_the_note_heard_is_spelled_by_its_chord(
    chord: str, key: str, wanted: str, shift: str, midi: int, printed: str
) -> None:
    """Common practice, no source: a chord tone has its chord's letter."""
    assert spelled(line_over(chord, key, wanted, shift), 0, midi).text == printed


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.85, 1.15), st.floats(-0.4, 1.0), st.floats(-0.45, 0.45))
def test_any_line_played_right_is_as_written(seed: int, rate: float, late: float, tuning: float) -> None:
    rng = random.Random(seed)
    line = t.melody(rng, t.KINDS["saxophone"], 40, 0.1)
    wanted = score_of(line, [(4.0 * n, 4.0) for n in range(30)], tempo=120)
    played = [
        (2 + late + (start - 2) * rate, length * rate, midi + tuning) for start, length, midi in as_played(wanted)
    ]
    assert words(judged(played, wanted)) == {}


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 20), st.floats(0.01, 2), st.floats(30, 96)), max_size=30))
def test_any_events_are_taken(rows: list[tuple[float, float, float]]) -> None:
    """Whatever a tracker hears, something is said, of every note or why not."""
    events = sorted(rows) or [(0.0, 0.1, 60.0)]
    for wanted in (score(), score(CROTCHETS[:1]), score(QUAVERS)):
        advice = judge(sound(events), wanted, lambda _i, midi: str(midi))
        assert advice.state == "declined" or len(advice.notes) == len(wanted.notes)


# --- with the tracker


installed = pytest.mark.skipif(not available(), reason="the extra of requirements-hearing.txt is not installed")


def rendered(name: str, tones: list[t.Tone], seed: int = 0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return t.take(tones, lambda length, midi: t.tone(t.KINDS[name], length, midi, rng), rng=rng).astype(np.float32)


@installed
@pytest.mark.parametrize("name", ["clarinet", "trombone", "voice"])
def test_a_rendered_take(name: str) -> None:
    """Planted faults, and only they, are told; frames and notes agree with what was rendered as mir_eval counts."""
    rng = random.Random(name)
    line = t.melody(rng, t.KINDS[name], 28)
    planted = t.plant(rng, line, 120.0, 0.07)
    assert {one.done for one in planted} == {"", "another", "not-heard", "late"}
    tones = t.played(rng, planted)
    wanted = score_of(line, [(4.0 * n, 4.0) for n in range(20)], tempo=120)
    heard = tracker.listen(np.array_split(rendered(name, tones), 7))
    advice = judge(heard, wanted, lambda _i, midi: str(midi), begins=2.0)
    assert words(advice) == {place: one.done for place, one in enumerate(planted) if one.done}
    assert [note.midi for note in advice.notes if note.midi] == [one.sounds for one in planted if one.done == "another"]
    precision, recall, f1 = _note_scores(tones, notes_of(heard.events))
    assert min(precision, recall, f1) >= 0.85
    assert _pitch_accuracy(tones, heard.frames) >= 0.9


def _note_scores(tones: list[t.Tone], notes: tuple[Event, ...]) -> tuple[float, float, float]:
    hz = mir_eval.util.midi_to_hz
    found = mir_eval.transcription.precision_recall_f1_overlap(
        np.array([(one.start, one.start + one.length) for one in tones]), hz(np.array([one.midi for one in tones])),
        np.array([(one.start, one.end) for one in notes]), hz(np.array([one.midi for one in notes])), offset_ratio=None,
    )  # fmt: skip
    return found[0], found[1], found[2]


def _pitch_accuracy(tones: list[t.Tone], frames: Frames) -> float:
    """mir_eval's raw pitch accuracy over the middles of the tones."""
    hertz = np.zeros(len(frames.times))
    for one in tones:
        hertz[frames.between(one.start + 0.05, one.start + one.length - 0.05)] = 440 * 2 ** ((one.midi - 69) / 12)
    heard = 440 * 2 ** ((frames.midi - 69) / 12)
    arrays = mir_eval.melody.to_cent_voicing(frames.times, hertz, frames.times, heard)
    return float(mir_eval.melody.raw_pitch_accuracy(*arrays))


@installed
@pytest.mark.parametrize(("name", "within"), [("clarinet", 3), ("saxophone", 3)])  # without vibrato, and with
def test_twenty_cents_sharp_are_read_as_twenty(name: str, within: int) -> None:
    line = [(2.0 * n, 2.0, midi) for n, midi in enumerate((60, 62, 64, 65, 67, 69, 71, 72, 67, 64))]
    tones = [t.Tone(2 + n, 0.9, midi + (0.2 if n in (3, 7) else 0.0)) for n, (_, _, midi) in enumerate(line)]
    heard = tracker.listen([rendered(name, tones)])
    advice = judge(heard, score_of(line, [(4.0 * n, 4.0) for n in range(5)], tempo=120), lambda _i, _m: "", begins=2.0)
    cents = [note.cents for note in advice.notes]
    assert all(abs(value - (20 if n in (3, 7) else 0)) <= within for n, value in enumerate(cents) if value is not None)
    assert None not in cents


@installed
def test_what_a_browser_makes_of_a_take_says_the_same() -> None:
    """Opus in WebM and AAC in MP4, 48 kHz, decoded as kept takes are: the verdicts of the samples themselves."""
    rng = random.Random(9)
    line = t.melody(rng, t.KINDS["clarinet"], 20)
    planted = t.plant(rng, line, 120.0, 0.08)
    samples = rendered("clarinet", t.played(rng, planted))
    wanted = score_of(line, [(4.0 * n, 4.0) for n in range(20)], tempo=120)

    def said(blocks: Any) -> tuple[Any, ...]:
        advice = judge(tracker.listen(blocks), wanted, lambda _i, midi: str(midi), begins=2.0)
        return words(advice), [note.midi for note in advice.notes]

    own = said([samples])
    assert set(own[0].values()) >= {"another", "late"}
    for container, codec, media_type in (("webm", "libopus", "audio/webm"), ("mp4", "aac", "audio/mp4")):
        file = io.BytesIO(packed(samples, container, codec))
        assert said(blocks_of(file, media_type)) == own, container


def packed(samples: np.ndarray, container: str, codec: str) -> bytes:
    """Samples as a browser records them."""
    out = io.BytesIO()
    with av.open(out, "w", format=container) as made:
        stream = made.add_stream(codec, rate=48_000)
        resampler = av.AudioResampler(format=stream.codec_context.format or "fltp", layout="mono", rate=48_000)
        frame = av.AudioFrame.from_ndarray(samples.reshape(1, -1).astype(np.float32), format="flt", layout="mono")
        frame.sample_rate = t.RATE
        for part in resampler.resample(frame):
            part.pts = None
            made.mux(stream.encode(part))
        made.mux(stream.encode(None))
    return out.getvalue()


@installed
def test_a_solo_is_heard_as_notes_and_begins_where_it_does() -> None:
    tones = [t.Tone(2.0 + 0.25 * n, 0.22, midi + 0.2) for n, midi in enumerate((67, 69, 70, 72, 74, 72, 70, 65))]
    notes = heard_notes(tracker.listen([rendered("flute", tones)]).events)
    assert [note.midi for note in notes] == [67, 69, 70, 72, 74, 72, 70, 65]  # against the take's own tuning
    assert first_note(notes, 2.0, 0.5) == pytest.approx(0, abs=0.1)
    assert first_note(notes, 3.0, 0.5) == pytest.approx(-2, abs=0.1)
    assert first_note((), 3.0, 0.5) is None


@installed
def test_silence_and_less_are_taken() -> None:
    for samples in (np.zeros(0), np.zeros(10), np.zeros(40_000)):
        heard = tracker.listen([samples.astype(np.float32)])
        assert notes_of(heard.events) == ()
        assert judge(heard, score(), lambda _i, _m: "").reason == NOTHING


def test_without_the_extra_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "swift_f0", None)
    tracker._detector.cache_clear()
    with pytest.raises(NotInstalled, match="requirements-hearing"):
        tracker.listen([np.zeros(100, dtype=np.float32)])


def test_pairs_keep_their_order() -> None:
    wanted = score(QUAVERS)
    events = [Event(start, start + length, midi) for start, length, midi in as_played(wanted)]
    rng = random.Random(4)
    rng.shuffle(specks := [Event(at * 0.31, at * 0.31 + 0.03, 50.0 + at % 9) for at in range(40)])
    found = align(sorted([*events, *specks[:20]], key=lambda one: one.start), wanted, begins=2.0)
    assert found is not None
    paired = [at for at in found.event_of if at >= 0]
    assert paired == sorted(set(paired))
    assert [found.events[at].start for at in found.event_of] == [one.start for one in events]
    assert replace(events[0], midi=1.0).length == events[0].length
