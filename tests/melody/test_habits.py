"""Habits: the chance of so many by accident, and what is counted. Shares are checked against the published counts."""

from itertools import product
from math import comb, prod

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.melody.lines import GRID, changes, melody
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.charts import parse_chart
from tunes.melody import Grid, Note, changes_of, habits, read, read_notes
from tunes.melody.habits import tail
from tunes.melody.profiles import DOMINANTS, table

# Shares (%) of notes over a dominant a fifth above what follows: Weimar Jazz Database (Jazzomat Research Project, ODbL),
# through jazzodata 0.1.4, half of its solos; aggregates only, described in Inside the Jazzomat, Schott 2017.
TENSIONS = {
    "to major": {1: 6.2, 3: 4.2, 6: 3.2, 8: 6.0, 2: 10.1, 9: 9.5},
    "to minor": {1: 8.9, 3: 7.3, 6: 4.1, 8: 9.1, 2: 5.3, 9: 3.6},
    "to dominant": {1: 4.9, 3: 5.6, 6: 4.1, 8: 5.0, 2: 10.1, 9: 9.6},
    "elsewhere": {1: 5.0, 3: 5.8, 6: 6.4, 8: 4.7, 2: 10.2, 9: 9.0},
}


@pytest.mark.parametrize("goes", TENSIONS)
def test_stored_shares_of_the_dominant_are_the_published_ones(goes, stored_counts):
    total = [
        sum(row[n] for (cls, to), row in stored_counts.items() if to == goes and cls in DOMINANTS) for n in range(12)
    ]
    for semitones, percent in TENSIONS[goes].items():
        assert 100 * total[semitones] / sum(total) == pytest.approx(percent, abs=0.1)


# Share of chord tones by class of chord (%), the same source.
SHARES = {
    "minor 7": ({0, 3, 7, 10}, 51.1), "major 7": ({0, 4, 7, 11}, 54.5), "major 6": ({0, 4, 7, 9}, 55.3), "major": ({0, 4, 7}, 49.4),
    "minor": ({0, 3, 7}, 43.8), "minor 6": ({0, 3, 7, 9}, 52.1), "half-diminished": ({0, 3, 6, 10}, 47.8),
    "diminished": ({0, 3, 6, 9}, 41.8), "dominant": ({0, 4, 7, 10}, 47.4), "suspended": ({0, 5, 7, 10}, 45.5),
}  # fmt: skip


@pytest.mark.parametrize("cls", SHARES)
def test_stored_shares_of_chord_tones_are_the_published_ones(cls, stored_counts):
    rows = [row for (name, _), row in stored_counts.items() if name == cls]
    inside, percent = SHARES[cls]
    assert 100 * sum(row[n] for row in rows for n in inside) / sum(map(sum, rows)) == pytest.approx(percent, abs=0.1)


@pytest.fixture(scope="module")
def stored_counts():
    import json

    from tunes.melody.profiles import MODEL

    data = json.loads(MODEL.read_text(encoding="utf-8"))
    assert "Weimar Jazz Database" in data["provenance"]["source"]
    return {tuple(key.split("|")): row for key, row in data["counts"].items()}


def test_shares_add_up_to_one():
    assert all(sum(row) == pytest.approx(1) and min(row) > 0 for row in table().values())


@given(st.lists(st.floats(0.01, 0.99), min_size=1, max_size=8), st.integers(1, 8))
def test_the_tail_is_the_sum_over_all_cases(odds, times):
    """Every way that the events can fall out, added up; below the mean and near it the chance is not worked out."""
    cases = product((0, 1), repeat=len(odds))
    exact = sum(
        prod(p if hit else 1 - p for p, hit in zip(odds, case, strict=True)) for case in cases if sum(case) >= times
    )
    found = tail(odds, times)
    assert found == 1.0 or found == pytest.approx(exact, abs=1e-9)
    if exact < 0.02:
        assert found < 1.0


def test_the_tail_of_equal_odds_is_binomial():
    assert tail([0.1] * 12, 6) == pytest.approx(sum(comb(12, k) * 0.1**k * 0.9 ** (12 - k) for k in range(6, 13)))


CHART = parse_chart("key: C\n| Dm7 | G7 | Cmaj7 | Cmaj7 |").chart


def sharp_eleven(choruses, held):
    """A chorus after the other with the sharp eleven over G7 in the first `held` of them, plain triads elsewhere."""
    over, grid = changes_of(CHART, analyse(CHART), choruses)
    notes = []
    for chorus in range(choruses):
        start = 16.0 * chorus
        eleven = 73 if chorus < held else 74
        for bar, pitches in enumerate(([62, 65, 69, 72], [71, 74, eleven, 67], [60, 64, 67, 71], [67, 64, 60, 64])):
            notes += [Note(start + 4 * bar + n, 1.0, p) for n, p in enumerate(pitches)]
    return read(notes, over, grid)


def eleven_of(reading):
    return next(h for h in reading.habits if h.function == "5" and h.degree == "#11")


def test_a_habit_has_its_function_its_count_and_its_chance():
    found = eleven_of(sharp_eleven(6, 5))
    assert (found.times, found.of, found.is_habit) == (5, 6, True)
    assert 0.05 < found.usual < 0.25  # four notes at 3 % each
    assert len(found.places) == 5
    assert sharp_eleven(6, 5).habits[0].p <= found.p


def test_fewer_than_five_occasions_are_a_plain_count():
    found = eleven_of(sharp_eleven(4, 4))
    assert (found.times, found.of, found.p, found.is_habit) == (4, 4, 1.0, False)


def test_one_of_many_is_no_habit():
    found = eleven_of(sharp_eleven(10, 1))
    assert found.p == 1.0


def test_dominants_to_major_and_to_minor_are_separate():
    found = read(melody([65, 68, 65, 68] * 2), changes("G7@0 Cmaj7@1 G7@2 Cm7@3"), GRID).habits
    assert {h.function for h in found if h.degree == "b9"} == {"dominant to major", "dominant to minor"}


def test_ghost_notes_count_for_nothing():
    notes = [Note(float(n), 1.0, 68, ghost=True) for n in range(20)]
    over = changes("G7@0")
    assert habits(read_notes(notes, over, GRID), notes, over, GRID) == ()


def test_a_solo_of_nothing():
    empty = read([], [], Grid.even(CHART.metre))
    assert (empty.notes, empty.lines, empty.habits) == ((), (), ())
