"""Shape, the grid, and a chart's chords in time. Contours as Huron 1996 names them."""

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.melody.lines import GRID, melody
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.charts import parse_chart
from tunes.harmony.charts.bars import Metre
from tunes.melody import Grid, Note, changes_of, shape
from tunes.melody.shape import contour

CHART = parse_chart("key: F\n[A]\n|: Gm7 C7 | Fmaj7 :|\n[B]\n| Bbmaj7 | Bdim7 |").chart
CONTOURS = [((60, 64, 60), "arch"), ((64, 60, 64), "bowl"), ((60, 62, 64), "rising"), ((64, 62, 60), "falling"),
            ((60,), "level"), ((60, 60, 61), "level")]  # fmt: skip


@pytest.mark.parametrize(("pitches", "name"), CONTOURS)
def test_contours(pitches, name):
    assert contour(pitches) == name


def test_a_chart_in_time():
    """Repeats unfolded, two choruses: six bars each, bars numbered through, the form's own number beside."""
    over, grid = changes_of(CHART, analyse(CHART), choruses=2)
    assert [(bar.number, bar.chorus, bar.form_bar) for bar in grid.bars][5:8] == [(6, 1, 6), (7, 2, 1), (8, 2, 2)]
    assert [bar.label for bar in grid.bars[:6]] == ["A", "", "", "", "B", ""]
    assert [(c.start, c.symbol.text) for c in over[:4]] == [(0, "Gm7"), (2, "C7"), (4, "Fmaj7"), (8, "Gm7")]
    assert over[8].start == 24
    assert over[1].function.spoken == "5"
    assert over[1].aim == (5, False)
    assert over[8].event == over[0].event == 0


def test_a_pickup_of_the_chart_is_left_out():
    chart = parse_chart("key: C\n[A]\n| G7 | Cmaj7 | Dm7 | G7 |").chart
    over, grid = changes_of(chart)
    assert (over[0].start, grid.bars[0].number) == (0, 1)


@given(st.integers(-40, 200), st.sampled_from(["4/4", "3/4", "6/8", "5/4"]))
def test_places_and_times_agree(eighths, metre):
    beats, unit = map(int, metre.split("/"))
    grid = Grid.even(Metre(beats, unit), 8)
    onset = F(eighths, 2)
    found = grid.place(onset)
    beat = F(4, unit)
    assert ((found.bar - 1) * beats + found.beat - 1 + found.tick) * beat == onset
    assert 1 <= found.beat <= beats
    assert grid.numbers([onset]) == [found.bar]


def test_phrases_rests_and_density():
    notes = [*melody([60, 64, 67, 64, 60], 0.5), *melody([72, 70], 7.0), Note(12.0, 1.0, 65)]
    found = shape(notes, Grid.even(Metre(4, 4), 4))
    assert [(p.first, p.last, p.begins.bar, p.begins.beat, p.begins.tick, p.contour) for p in found.phrases] == [
        (0, 4, 1, 1, 0.5, "arch"), (5, 6, 2, 4, 0.0, "falling"), (7, 7, 4, 1, 0.0, "level")]  # fmt: skip
    assert [(p.form_bar, p.end_form_bar, p.length) for p in found.phrases] == [(1, 1, 2.5), (2, 2, 1.0), (4, 4, 1.0)]
    assert (found.low, found.high, found.range) == (60, 72, 12)
    assert [len(bar.onsets) for bar in found.bars] == [5, 2, 0, 1]
    assert [bar.rest for bar in found.bars] == [1.5, 3.0, 4.0, 3.0]
    assert found.density == pytest.approx(8 / 3)
    assert found.bars[0].heights[1] == pytest.approx((64 + 67) / 2 + 0.0) or found.bars[0].heights[1] == pytest.approx(
        65.5
    )
    assert found.bars[2].heights == (None,) * 4


def test_a_marked_phrase_begins_where_it_is_marked():
    notes = melody([60, 62, 64])
    marked = [notes[0], Note(0.5, 0.5, 62, phrase=True), notes[2]]
    assert [(p.first, p.last) for p in shape(marked, GRID).phrases] == [(0, 0), (1, 2)]
    assert shape([], GRID).phrases == ()
    assert shape([], GRID).low is None
