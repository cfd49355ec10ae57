"""What bars goals in the search: the chord that follows at once is the goal, and the second choice knows it too.

Sources: a dominant falls a fifth and its substitute a semitone (Pease, *Jazz Composition*, 2003, p. 53); the circle of the key with
its diminished fifth, and the sliding diminished chord: common practice, no source. Charts are made up here.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from tests.harmony.test_agreement import CHARTS
from tests.harmony.test_analysis import chart_of
from tunes.harmony.analysis.preparation.skeleton import TOP, Skeleton, skeleton
from tunes.harmony.analysis.sounds import sounds_of
from tunes.harmony.charts import transpose_chart
from tunes.harmony.pitch.spelling import Interval

FIFTHS = (0, -5, 6)  # C and two awkward keys
AT_ONCE = {
    "a dominant before the chord it promises": ("| Cmaj7 | Am7 D7 | Gmaj7 | Gmaj7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", 2),
    "though the same root comes again": ("| Cmaj7 | A7 | Dm7 | G7 | A7 | Dm7 | G7 | Cmaj7 |", 1),
    "a 2 before the substitute": ("| Cmaj7 | Cmaj7 | Dm7 | Db7 | Cmaj7 | Dm7 | G7 | Cmaj7 |", 1),
    "flat 6 before half diminished 2": ("| Cm7 | Abmaj7 | Dm7b5 | G7 | Cm7 | Fm7 | Dm7b5 G7 | Cm6 |", 1),
    "half diminished 6 before half diminished 2": ("| Cm7 | Am7b5 | Dm7b5 | G7 | Cm7 | Fm7 | Dm7b5 G7 | Cm6 |", 1),
    "a diminished chord that slides": ("| C6 | Em7 | Ebdim7 | Dm7 | G7 | C6 | C6 | C6 |", 2),
}


def bones_of(text: str, fifths: int = 0) -> Skeleton:
    chart = transpose_chart(chart_of(text), Interval(fifths * 4 % 7, fifths * 7 % 12))
    found = skeleton(*sounds_of(chart.events()))
    assert found is not None
    return found


@pytest.mark.parametrize("fifths", FIFTHS)
@pytest.mark.parametrize("case", AT_ONCE)
def test_the_next_chord_is_the_goal(case: str, fifths: int) -> None:
    text, index = AT_ONCE[case]
    assert bones_of(text, fifths).goals[index] == index + 1


@pytest.mark.parametrize("fifths", FIFTHS)
def test_the_5_of_home_is_no_substitute_before_a_2_5_a_semitone_below(fifths: int) -> None:
    """Common practice, no source: 2 5 of home left for the 2 5 below it; a dominant without a 2 slips a semitone (Pease, p. 53)."""
    left = bones_of("| Cmaj7 | Cmaj7 | Dm7 | G7 | C#m7 | F#7 | Bmaj7 | Bmaj7 | Dm7 | G7 | Cmaj7 | Cmaj7 |", fifths)
    five = next(index for index, move in enumerate(left.moves) if move == "supertonic") + 1
    assert left.moves[five] != "tritone"
    slips = bones_of("| Cmaj7 | Cmaj7 | Ab7 | G7 | Cmaj7 | Ab7 | G7 | Cmaj7 |", fifths)
    assert (slips.goals[1], slips.moves[1]) == (2, "tritone")


@settings(max_examples=60, deadline=None)
@given(CHARTS)
def test_the_second_choice_knows_what_is_barred(text: str) -> None:
    """A diminished chord that slides has no other goal at all; a dominant before the tonic that it promises aims at no later
    chord on that root, as a first choice or as a second."""
    bones = bones_of(text)
    stop = len(bones.chords) if bones.last_tonic is None else bones.last_tonic
    for index in range(1, stop - 1):
        before, here, after = bones.chords[index - 1 : index + 2]
        if here.cls == "dim" and (before.root - here.root) % 12 == (here.root - after.root) % 12 == 1:
            assert (bones.heads[index], bones.rival[index]) == (index + 1, None)
            assert bones.sure[index] == pytest.approx(1)
        if here.cls == "dom" and after.cls in ("maj", "min", "dom") and (after.root - here.root) % 12 == 5:
            for goal in (bones.heads[index], bones.rival[index]):
                later = goal not in (None, TOP, index + 1)
                assert not later or bones.chords[goal or 0].root != after.root
