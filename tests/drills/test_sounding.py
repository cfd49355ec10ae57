"""The rendered band: tones in tune and in time, one loudness, nothing clipped; the demo's files play the charts they say."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest

from drills.demo_recordings import chords_of, planned, score_of
from drills.sounding import desk, drums, strings, winds
from drills.sounding.modes import Samples, cut
from drills.sounding.performance import Band, Lineup, Played, Score
from tests.bench.recordings import bass_heard, decoded, rise_near
from tunes.demo.recorded import FOLDER, charts_of, recorded

RATE = 48_000
RNG = np.random.default_rng(7)


def cents_off(wave: Samples, midi: float) -> float:
    """From equal temperament to the strongest partial near the fundamental, by the phase of two spectra a moment apart."""
    f0 = 440 * 2 ** ((midi - 69) / 12)
    hop, size, first = 480, 1 << 14, int(0.15 * RATE)
    window = np.hanning(size)
    one, two = (np.fft.rfft(wave[at : at + size] * window) for at in (first, first + hop))
    near = slice(int(f0 * 0.94 * size / RATE), int(f0 * 1.06 * size / RATE) + 2)
    place = near.start + int(np.argmax(np.abs(one[near])))
    turn = np.angle(two[place] / one[place])
    expected = 2 * np.pi * place / size * hop
    heard = (expected + np.angle(np.exp(1j * (turn - expected)))) / (2 * np.pi * hop) * RATE
    return float(1200 * np.log2(heard / f0))


TONES = {
    "double bass": (partial(strings.plucked, strings.DOUBLE_BASS), (28, 40, 52)),
    "guitar": (partial(strings.plucked, strings.GUITAR), (45, 64)),
    "vibraphone": (lambda midi, rng, rate: strings.vibraphone(midi, 1.0, rng, rate=rate), (60, 79)),
    "electric piano": (lambda midi, rng, rate: strings.electric_piano(midi, 0.6, rate=rate, seconds=1.0), (52, 69)),
    "piano": (lambda midi, rng, rate: strings.piano(midi, 0.6, rng, rate=rate, seconds=1.0)[0], (48, 69)),
    "tenor": (lambda midi, rng, rate: winds.blown(winds.WINDS["tenor-sax"], midi, 1.0, 0.7, rng, rate=rate), (52, 70)),
    "voice": (lambda midi, rng, rate: winds.blown(winds.WINDS["voice"], midi, 1.0, 0.7, rng, rate=rate), (60, 74)),
}  # fmt: skip


@pytest.mark.parametrize("name", TONES)
def test_tones_are_in_tune_and_begin_at_once(name: str) -> None:
    """Equal temperament at A4 = 440 Hz (ISO 16). Vibrato and stretched partials stay within ten cents of it."""
    make, pitches = TONES[name]
    for midi in pitches:
        wave = make(midi, RNG, rate=RATE)
        assert np.all(np.isfinite(wave))
        assert abs(cents_off(wave, midi)) < 10, midi
        loud = np.abs(wave) > 0.2 * np.max(np.abs(wave[: RATE // 2]))
        assert np.argmax(loud) / RATE < 0.035, midi  # a soft attack, no silence before it
        short = cut(wave, 0.2, 0.09, RATE)
        assert len(short) <= 0.3 * RATE
        assert abs(short[-1]) < 0.01


def test_strokes_differ_and_end() -> None:
    for what in drums.LASTS:
        one, two = (drums.struck(what, np.random.default_rng(seed), rate=RATE) for seed in (1, 2))
        assert np.max(np.abs(one)) == pytest.approx(1)
        assert not np.array_equal(one, two)
        assert np.argmax(np.abs(one) > 0.3) / RATE < 0.03, what
        assert np.max(np.abs(one[-50:])) < 0.02, what


def test_loudness_is_the_standards() -> None:
    """ITU-R BS.1770-4: a 997 Hz sine at full scale on the left side alone reads -3.01 LKFS; on both sides 3.01 more."""
    sine = np.sin(2 * np.pi * 997 * np.arange(3 * RATE) / RATE).astype(np.float32)
    left = np.stack([sine, np.zeros_like(sine)])
    assert desk.loudness(left, RATE) == pytest.approx(-3.01, abs=0.01)
    assert desk.loudness(np.stack([sine, sine]), RATE) == pytest.approx(0.0, abs=0.01)
    gated = np.concatenate([left, np.zeros((2, 6 * RATE), np.float32)], axis=1)  # silence is not counted
    assert desk.loudness(gated, RATE) == pytest.approx(-3.01, abs=0.25)


def test_nothing_is_clipped_and_notes_stand_where_the_score_has_them() -> None:
    """Every mix has one loudness; a kick alone stands at its sample; peaks far above the ceiling come down to it."""
    strokes = [(0.5 + 0.5 * n, "kick", 1.0) for n in range(4)]
    bass = [Played(0.5 + 0.5 * n, 0.45, (33 + n,), 0.8) for n in range(4)]
    mix = Band(RATE).render(Score(3.0, bass, (), (), strokes), Lineup())
    assert desk.loudness(mix, RATE) == pytest.approx(desk.LOUDNESS, abs=0.3)
    assert np.max(np.abs(mix)) <= desk.CEILING + 1e-4
    assert all(abs(rise_near(mix, at)) <= 2 for at, *_ in strokes)
    loud = (4 * np.random.default_rng(1).standard_normal((2, RATE))).astype(np.float32)
    assert np.max(np.abs(desk.limited(loud, RATE))) <= desk.CEILING + 1e-6


def test_the_files_are_those_of_the_charts_as_they_are() -> None:
    """A chart that was edited since is played wrongly by its file: render it anew. Small, and none is forgotten."""
    plans = list(planned())
    assert {(plan.tune.title, plan.place) for plan in plans} == set(recorded())
    for plan in plans:
        row = recorded()[plan.tune.title, plan.place]
        assert row.charts == charts_of(plan.tune, row.versions), f"manage.py render_demo {plan.name}"
        assert row.path.exists()
        assert row.marks[0].bar == 1
    assert len({row.versions[-1] for row in recorded().values()}) >= 8
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 4.8e6


def test_a_file_plays_the_changes_of_its_version_where_its_map_says() -> None:
    """Read from the sound: the bass of every chord is the chart's, in the recording's key; bar lines are where energy rises."""
    plan = next(plan for plan in planned() if plan.name == "cobalt-street-2")  # the plain changes, in A flat
    row = recorded()[plan.tune.title, plan.place]
    score, marks = score_of(plan)
    assert tuple(marks) == row.marks
    sound = decoded(row.path)
    assert abs(sound.shape[1] / RATE - score.seconds) < 0.05
    assert np.max(np.abs(sound)) < 0.98
    assert abs(desk.loudness(sound, RATE) - desk.LOUDNESS) < 1
    assert not np.allclose(sound[0], sound[1], atol=0.01)  # stereo
    tops = [mark.seconds for mark in marks if mark.label]
    assert all(abs(rise_near(sound, at)) <= 5 for at in tops), [rise_near(sound, at) for at in tops]
    wanted = chords_of(plan)
    right = [bass_heard(sound, at, lasts) == pc for at, lasts, pc in wanted]
    assert len(right) >= 12
    assert np.mean(right) >= 0.9
