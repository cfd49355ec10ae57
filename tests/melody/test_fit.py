"""How well notes fit: arpeggios that are spelled out must fit their own chord best; few notes say nothing."""

import pytest

from tests.melody.lines import GRID, changes, melody
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.charts import parse_chart
from tunes.harmony.chords import parse_symbol
from tunes.harmony.pitch.spelling import MAJOR_KEYS, degree_interval
from tunes.melody import Note, changes_of, chord_fit, fit_bars, scale_fit
from tunes.melody.fit import FEWEST_NOTES

# The seventh chords of a key (any harmony book), each with its arpeggio up and down.
KINDS = {"maj7": "1 3 5 7", "m7": "1 b3 5 b7", "7": "1 3 5 b7", "m7b5": "1 b3 b5 b7", "m6": "1 b3 5 6"}
ROOTS = [key.tonic for key in MAJOR_KEYS]


def arpeggio(root, kind):
    tones = [60 + (root.pc + degree_interval(degree).semitones) for degree in KINDS[kind].split()]
    return [*tones, *tones[-2::-1]]


@pytest.mark.parametrize("kind", KINDS)
def test_an_arpeggio_fits_its_own_chord_better_than_any_on_another_root(kind):
    """Chords with the same four notes set aside (a minor sixth is the half-diminished a minor third below)."""
    lost = []
    for root in ROOTS:
        sounds = [(midi, 0.5) for midi in arpeggio(root, kind)]
        own = parse_symbol(root.text + kind).symbol
        for other_root in ROOTS:
            for other_kind in KINDS:
                other = parse_symbol(other_root.text + other_kind).symbol
                if other_root != root and other.pcs != own.pcs and chord_fit(sounds, other) >= chord_fit(sounds, own):
                    lost.append((own.text, other.text))
    assert lost == []


def test_a_scale_fits_the_notes_it_has():
    major = frozenset({0, 2, 4, 5, 7, 9, 11})
    inside = [(60 + n, 0.5) for n in (0, 2, 4, 5, 7)]
    outside = [(60 + n, 0.5) for n in (1, 3, 6, 8, 10)]
    assert scale_fit(inside, major) > scale_fit(outside, major)
    assert scale_fit(inside[:3], frozenset({0, 2, 4, 7, 9})) > scale_fit(
        inside[:3], major
    )  # the narrower scale that has them


def test_a_bar_is_held_against_what_players_put_in_its_place():
    chart = parse_chart("key: C\n| Dm7 | G7 | Cmaj7 | % |").chart
    over, grid = changes_of(chart, analyse(chart))
    found = fit_bars(
        [Note(4 + n / 2, 0.5, midi) for n, midi in enumerate((65, 68, 72, 73, 72, 68, 65, 63))], over, grid
    )
    assert [(bar.bar, bar.change, bar.first, bar.last) for bar in found] == [(2, 1, 0, 7)]
    kinds = {one.kind: one.name for one in found[0].candidates}
    assert kinds["written"] == "G7"
    assert kinds["tritone substitute"] == "Db7"
    assert kinds["related 2"] == "Dm7"
    assert kinds["chord to come"] == "Cmaj7"
    assert kinds["key"] == "C major"
    assert kinds["scale"] == "G Mixolydian"
    assert {"G altered", "G half-whole diminished"} <= {
        one.name for one in found[0].candidates if one.kind == "other scale"
    }
    assert (found[0].best.name, found[0].verdict) == ("Db7", "other")
    assert found[0].margin < 0
    assert [one.fit for one in found[0].candidates] == sorted((one.fit for one in found[0].candidates), reverse=True)


def test_few_notes_are_open_and_bars_without_chords_are_left_out():
    assert fit_bars(melody([60, 64]), changes("NC@0"), GRID) == ()
    three = fit_bars(melody([60, 64, 67][: FEWEST_NOTES - 1]), changes("C@0 F@4"), GRID)
    assert [bar.verdict for bar in three] == ["open"]
    both = fit_bars(melody([60, 64, 67, 64]), changes("C@0 F@4"), GRID)
    assert both[0].margin > 0
    assert {one.kind for one in both[0].candidates} >= {"written", "chord to come"}


def test_the_bar_and_the_chord_part_the_notes():
    found = fit_bars(melody([60] * 16), changes("C@0 F@2 C@4"), GRID)
    assert [(bar.bar, bar.change, bar.first, bar.last) for bar in found] == [(1, 0, 0, 3), (1, 1, 4, 7), (2, 2, 8, 15)]
