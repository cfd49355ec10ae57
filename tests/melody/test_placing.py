"""Onsets on bars and beats. What is played exactly on a grid must come back exactly; 30 ms ahead of a beat is the beat
(Inside the Jazzomat, Schott 2017, on the annotation of recorded solos)."""

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tunes.melody import Tap, place, swing_ratio


def taps(tempo, bars, beats=4, every=1):
    length = 60 / tempo
    return [Tap(n * beats * length, n + 1, 1) for n in range(0, bars + 1, every)]


def played(places, tempo, beats=4, lean=0.0):
    """(bar, beat, tick) → seconds at an even tempo, `lean` seconds late."""
    return [((bar - 1) * beats + beat - 1 + float(tick)) * 60 / tempo + lean for bar, beat, tick in places]


def read(found):
    return [(p.bar, p.beat, p.tick) for p in found]


# Rhythms of a bar as they are written: the grids that a drill, a line, a ballad use.
BEATS = [
    (F(0),), (F(0), F(1, 2)), (F(1, 2),), (F(0), F(1, 3), F(2, 3)), (F(0), F(1, 4), F(1, 2), F(3, 4)), (F(0), F(3, 4)),
    (F(0), F(1, 4), F(1, 2)), (F(1, 3), F(2, 3)), (), (F(0), F(1, 6), F(1, 3), F(1, 2), F(2, 3), F(5, 6)),
    (F(0), F(1, 5), F(2, 5), F(3, 5), F(4, 5)),
]  # fmt: skip


@given(st.lists(st.sampled_from(BEATS), min_size=1, max_size=24), st.sampled_from([60, 120, 180]), st.sampled_from([3, 4]),
       st.sampled_from([1, 4]))  # fmt: skip
def test_what_is_played_on_the_grid_is_written_on_it(rhythm, tempo, beats, every):
    places = [(n // beats + 1, n % beats + 1, tick) for n, beat in enumerate(rhythm) for tick in beat]
    if every == 1 or places:
        found = place(played(places, tempo, beats), taps(tempo, 8, beats, 1), beats)
        assert read(found) == places
        assert all(abs(p.lean) < 1e-6 for p in found)


@given(st.lists(st.sampled_from(BEATS[:6]), min_size=1, max_size=16), st.floats(-0.025, 0.045))
def test_a_little_ahead_or_behind_is_the_same_place(rhythm, lean):
    places = [(n // 4 + 1, n % 4 + 1, tick) for n, beat in enumerate(rhythm) for tick in beat]
    found = place(played(places, 100, lean=lean), taps(100, 8))
    assert read(found) == places
    assert all(p.lean * 0.6 == pytest.approx(lean, abs=1e-6) for p in found)


def test_thirty_milliseconds_ahead_of_a_beat_is_the_beat():
    found = place([1.965], taps(120, 2)) + place([1.975], taps(120, 2))
    assert [(p.bar, p.beat) for p in found] == [(1, 4), (2, 1)]


def test_swung_eighths_are_eighths():
    """Two to one, a whole bar of it: read as eighths when swing is asked for, and the ratio is told."""
    places = [(1, beat, tick) for beat in (1, 2, 3, 4) for tick in (F(0), F(2, 3))]
    seconds = played(places, 120)
    assert {p.tick for p in place(seconds, taps(120, 2))} == {F(0), F(2, 3)}
    swung = place(seconds, taps(120, 2), swing=True)
    assert {p.tick for p in swung} == {F(0), F(1, 2)}
    assert swing_ratio(swung) == pytest.approx(2.0)
    light = place(played([(1, b, t) for b in (1, 2, 3, 4) for t in (F(0), F(58, 100))], 120), taps(120, 2))
    assert {p.tick for p in light} == {F(0), F(1, 2)}
    assert swing_ratio(light) == pytest.approx(0.58 / 0.42)
    triplet = place(played([(1, 1, F(n, 3)) for n in range(3)], 120), taps(120, 2), swing=True)
    assert [p.tick for p in triplet] == [F(0), F(1, 3), F(2, 3)]
    assert swing_ratio(triplet) is None


def test_a_tempo_that_gives_and_takes_is_followed_between_taps():
    """A chorus of 32 bars that hurries in its first half, tapped at both ends only: most beats are found by the notes."""
    beats = [0.0]
    for n in range(128):
        beats.append(beats[-1] + (0.496 if n < 64 else 0.504))
    seconds = [b + part * (beats[n + 1] - b) for n, b in enumerate(beats[:-1]) for part in (0.0, 0.5)]
    found = place(seconds, [Tap(0.0, 1, 1), Tap(beats[-1], 33, 1)])
    right = sum((p.bar - 1) * 4 + p.beat - 1 == n // 2 for n, p in enumerate(found))
    even = sum(int((s + 0.03) / (beats[-1] / 128)) == n // 2 for n, s in enumerate(seconds))
    assert right > 0.95 * len(seconds) > even
    assert not any(p.sure for p in found)


def test_before_the_first_and_after_the_last_tap_it_goes_on():
    found = place([-0.5, 4.5], taps(120, 2))
    assert read(found) == [(0, 4, F(0)), (3, 2, F(0))]
    assert not any(p.sure for p in found)


@pytest.mark.parametrize(
    ("given_taps", "words"),
    [([Tap(0.0, 1, 1)], "at least two"), ([], "at least two"), ([Tap(0.0, 1, 1), Tap(0.0, 2, 1)], "out of order"),
     ([Tap(2.0, 1, 1), Tap(1.0, 2, 1)], "out of order"), ([Tap(1.0, 1, 1), Tap(2.0, 1, 1)], "out of order")],
)  # fmt: skip
def test_taps_that_cannot_be_are_refused(given_taps, words):
    with pytest.raises(ValueError, match=words):
        place([0.5], given_taps)


@given(st.lists(st.floats(0, 30), max_size=60).map(sorted))
def test_any_onsets_get_a_place_in_order(onsets):
    found = place(onsets, taps(120, 15))
    assert len(found) == len(onsets)
    where = [(p.bar, p.beat) for p in found]
    assert where == sorted(where)
    assert all(0 <= p.tick < 1 for p in found)
