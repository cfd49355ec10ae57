"""Lines that come back, and lines that are looked for. The definition of a match is tested against brute force."""

import itertools
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tunes.melody import LineIndex, recurring_lines
from tunes.melody.lines import FEWEST_INTERVALS, is_trivial

LINE = (0, 3, 2, -1, 7, 5, 4)  # seven notes of no scale
PADDING = [0, 5, -2, 9, 1, -6, 4, 11, -3, 8, 2, -7]


def matches(pitches, intervals, changed):
    """Every place where at most `changed` notes of the line have another pitch, in some transposition."""
    heights = [0]
    for interval in intervals:
        heights.append(heights[-1] + interval)
    size = len(heights)
    windows = range(len(pitches) - size + 1)
    votes = (Counter(pitches[i + n] - heights[n] for n in range(size)).most_common(1)[0][1] for i in windows)
    return [i for i, most in zip(windows, votes, strict=True) if most >= size - changed]


PITCHES = st.lists(st.integers(55, 70), min_size=0, max_size=60)
WIDE = st.lists(st.one_of(st.integers(55, 70), st.sampled_from([0, 127])), min_size=2, max_size=30)


@given(
    st.lists(st.one_of(PITCHES, WIDE), min_size=1, max_size=4),
    st.lists(st.integers(-4, 4), min_size=1, max_size=7),
    st.integers(0, 1),
)
def test_the_index_finds_what_the_definition_says(melodies, intervals, changed):
    expected = [(m, i) for m, pitches in enumerate(melodies) for i in matches(pitches, intervals, changed)]
    assert LineIndex(melodies).find(intervals, changed) == expected


@given(st.data())
def test_a_line_taken_from_a_melody_is_found_there(data):
    pitches = data.draw(st.lists(st.integers(0, 127), min_size=8, max_size=40))
    at = data.draw(st.integers(0, len(pitches) - 7))
    cut = [b - a for a, b in zip(pitches[at : at + 6], pitches[at + 1 : at + 7], strict=True)]
    note = data.draw(st.integers(at, at + 6))
    changed = [*pitches[:note], data.draw(st.integers(0, 127)), *pitches[note + 1 :]]
    index = LineIndex([pitches, changed])
    assert {(0, at)} <= set(index.find(cut))
    assert {(0, at), (1, at)} <= set(index.find(cut, changed=1))


def test_a_leap_wider_than_ten_octaves_is_found_with_a_changed_note_before_it():
    assert LineIndex([[0, 0, 0, 0, 121]]).find((0, 0, 1, 120), changed=1) == [(0, 0)]


def test_an_empty_line_is_refused():
    with pytest.raises(ValueError, match="two notes"):
        LineIndex([[60, 62]]).find(())


def planted(lines, gap=11):
    """A melody with the given lines apart from each other, and where they begin."""
    pitches, starts = [], []
    for n, line in enumerate(lines):
        pitches += [60 + PADDING[(n * 5 + k * (n + 3)) % len(PADDING)] + k % 5 for k in range(gap)]
        starts.append(len(pitches))
        pitches += [62 + n + height for height in line]
    return pitches, starts


def found_at(pitches):
    lines = recurring_lines(pitches, [n / 2 for n in range(len(pitches))])
    return lines, [set(line.starts) for line in lines]


def test_a_line_planted_twice_and_more_is_found_in_every_key():
    for times in (2, 3, 5):
        pitches, starts = planted([LINE] * times)
        lines, places = found_at(pitches)
        assert any(set(starts) <= at or {s - o for s in starts} <= at for at in places for o in (-1, 0, 1, 2))
        assert lines[0].length >= FEWEST_INTERVALS


def test_one_note_changed_in_every_place_is_still_the_same_line():
    changed = [tuple(h + (1 if n == note else 0) for n, h in enumerate(LINE)) for note in (1, 3, 5, 2, 4)]
    pitches, starts = planted(changed)
    lines, _ = found_at(pitches)
    line = next(line for line in lines if set(starts) <= set(line.starts))
    assert line.intervals == tuple(b - a for a, b in itertools.pairwise(LINE))
    assert [place.changed for place in line.places if place.start in starts] == [1, 3, 5, 2, 4]


# "chromatic runs and repeated notes alone do not count"; a shake is two notes in turn
TRIVIAL = [(1, 1, 1, 1, 1), (-1, -1, -1, -1, -1), (0, 0, 0, 0, 0), (0, 1, 0, 1, 0), (2, -2, 2, -2, 2)]


@pytest.mark.parametrize("intervals", TRIVIAL)
def test_runs_repeats_and_shakes_are_no_lines(intervals):
    assert is_trivial(intervals)
    line = [0]
    for interval in intervals:
        line.append(line[-1] + interval)
    pitches, starts = planted([line] * 4)
    _, places = found_at(pitches)
    assert not any(set(starts) <= at for at in places)


def test_rhythm_is_told_apart():
    pitches, starts = planted([LINE] * 3)
    onsets = [n / 2 for n in range(len(pitches))]
    onsets[starts[2] + 1] += 0.25
    line = next(line for line in recurring_lines(pitches, onsets) if set(starts) <= set(line.starts))
    assert [place.rhythm for place in line.places] == [True, True, False]
    assert [place.moved for place in line.places] == [0, 1, 2]


@given(st.lists(st.integers(50, 80), max_size=80), st.integers(-12, 12))
def test_lines_do_not_hang_on_the_key_and_are_what_they_say(pitches, up):
    onsets = [n / 2 for n in range(len(pitches))]
    lines = recurring_lines(pitches, onsets)
    assert recurring_lines([p + up for p in pitches], onsets) == lines
    for line in lines:
        assert line.length >= FEWEST_INTERVALS
        assert not is_trivial(line.intervals)
        for place in line.places:
            assert place.start in matches(pitches, line.intervals, 0 if place.changed is None else 1)
        apart = zip(line.starts, line.starts[1:], strict=False)
        assert all(b - a >= line.length for a, b in apart)


def test_a_place_entered_from_further_off_belongs_to_the_line() -> None:
    """Four places of one line of seven notes, of which two begin on another note: a fifth off and a third off."""
    tail = [79, 78, 76, 72, 68, 69]
    between = [[50, 55, 52, 57], [61, 53, 60, 51], [66, 58, 49, 63], [52, 64, 55]]
    melody = [note for first, gap in zip((72, 75, 69, 77), between, strict=True) for note in (first, *tail, *gap)]
    found = recurring_lines(melody, [0.5 * n for n in range(len(melody))])
    assert max(len(line.places) for line in found) == 4
