"""Pitch by frame to a cent: read off the samples near what the tracker says, left alone where nothing repeats."""

from __future__ import annotations

import numpy as np
import pytest

from drills.hearing.refining import MOST, refined
from drills.hearing.sound import RATE, STEP

TIMES = np.arange(0.2, 0.8, STEP)
SURE = np.ones(len(TIMES))


def harmonics(midi: float, falls: float = 1.0, seconds: float = 1.0) -> np.ndarray:
    """A tone of equal temperament (A4 = 440 Hz, ISO 16) with six partials."""
    time = np.arange(int(seconds * RATE)) / RATE
    f0 = 440 * 2 ** ((midi - 69) / 12)
    return sum(0.2 * n**-falls * np.sin(2 * np.pi * n * f0 * time + n) for n in range(1, 7) if n * f0 < RATE / 2)


@pytest.mark.parametrize("midi", [28.0, 41.2, 55.0, 60.13, 69.2, 76.0, 84.95, 93.0])
@pytest.mark.parametrize("wrong", [-0.06, 0.0, 0.05])
def test_a_tracker_some_cents_off_is_put_right(midi: float, wrong: float) -> None:
    found = refined(np.full(len(TIMES), midi + wrong), TIMES, SURE, harmonics(midi))
    assert np.max(np.abs(found - midi)) < 0.01  # a cent


def test_a_weak_fundamental_and_samples_of_16_bits_do_no_harm() -> None:
    sound = harmonics(60.2, falls=-0.3)
    whole = np.round(sound / np.abs(sound).max() * 3000).astype(np.int16)
    found = refined(np.full(len(TIMES), 60.25), TIMES, SURE, whole)
    assert np.max(np.abs(found - 60.2)) < 0.01


def test_what_does_not_repeat_or_is_another_note_stays_as_it_was() -> None:
    said = np.full(len(TIMES), 64.0)
    noise = np.random.default_rng(3).standard_normal(RATE)
    assert np.array_equal(refined(said, TIMES, SURE, noise), said)
    assert np.array_equal(refined(said, TIMES, 0 * SURE, harmonics(64.1)), said)  # unsure frames are nobody's
    assert np.max(np.abs(refined(said, TIMES, SURE, harmonics(66.0)) - said)) <= MOST
    assert np.array_equal(refined(said, TIMES + 5, SURE, harmonics(64.1)), said)  # past the end
    assert len(refined(said[:0], TIMES[:0], SURE[:0], noise[:0])) == 0
