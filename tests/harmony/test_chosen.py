"""Bars chosen on a chart, made into a pattern.

What the bars are called is checked against published progressions: the 2 5 1, its tritone substitute and the chain of
dominants (Pease, *Jazz Composition*, Berklee Press 2003, p. 53); the turnaround, minor 4 to 1 and rising diminished are
common practice, no source.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tunes.engine import analyse
from tunes.harmony.charts import parse_chart
from tunes.harmony.progressions import chosen
from tunes.harmony.progressions.chosen import ANY, AWAY, EXACT, HOME, SOUND, Loose, NotAPattern
from tunes.harmony.progressions.pattern import parse_pattern
from tunes.harmony.progressions.table import BUILT_IN
from tunes.harmony.readings.reading import Analysis

KIND_ALONE = Loose()
HOME_CHART = "key: F\n| Fmaj7 | Cm7 F7 | Bbmaj7 | Bbm6 | Fmaj7 D7 | Gm7 C7 | Am7 Abdim7 | Gm9 Gb13 | F6/C | F6 |"


def read(text: str) -> Analysis:
    chart = parse_chart(text).chart
    assert chart is not None
    return analyse(chart)


def pattern(analysis: Analysis, first: int, last: int, loose: Loose = KIND_ALONE, count: int = 0) -> str:
    events = chosen.between(first, last, len(analysis.readings))
    centre = chosen.centres(analysis, events)[count]
    return chosen.written(chosen.steps_of(analysis, events, centre), loose)


@pytest.mark.parametrize(
    ("first", "last", "loose", "expected"),
    [
        (1, 3, Loose(), "2min 5dom 1maj"),  # heading for 4: counted from where it leads
        (1, 3, Loose(where=AWAY), "away: 2min 5dom 1maj"),
        (3, 5, Loose(), "4maj 4min 1maj"),
        (3, 5, Loose(closeness=EXACT), "4maj7 4m6 1maj7"),
        (5, 8, Loose(), "1maj 6dom 2min 5dom"),
        (5, 8, Loose(where=HOME, optional=frozenset({1})), "home: 1maj (6dom) 2min 5dom"),
        (7, 8, Loose(closeness=ANY), "2 5"),
        (11, 13, Loose(), "2min b2dom 1maj"),
        (11, 13, Loose(bass=True), "2min b2dom 1maj_5"),
        (11, 14, Loose(), "2min b2dom 1maj"),  # the same chord twice counts as one
        (11, 0, Loose(where=SOUND), "sound: 2min b2dom 1maj"),  # through the repeat of the form
    ],
)
def test_bars_become_the_pattern_that_a_player_would_say(first: int, last: int, loose: Loose, expected: str) -> None:
    analysis = read(HOME_CHART)
    made = pattern(analysis, first, last, loose)
    assert made == expected
    assert chosen.finds_itself(analysis, chosen.between(first, last, len(analysis.readings)), made)


@pytest.mark.parametrize(
    ("name", "chart", "first", "last"),
    [
        ("cadence-major", "key: C\n| Cmaj7 | Dm7 G7 | Cmaj7 |", 1, 3),
        ("tritone-cadence", "key: C\n| Cmaj7 | Dm7 Db7 | Cmaj7 |", 1, 3),
        ("turnaround-1-6-2-5", "key: C\n| Cmaj7 Am7 | Dm7 G7 | Cmaj7 |", 0, 3),
        ("turnaround-dominants", "key: C\n| Cmaj7 | E7 A7 | D7 G7 | Cmaj7 |", 1, 4),
        ("turnaround-rising-diminished", "key: C\n| Cmaj7 C#dim7 | Dm7 G7 | Cmaj7 |", 0, 3),
        ("backdoor", "key: C\n| Cmaj7 | Fm7 Bb7 | Cmaj7 |", 1, 3),
    ],
)
def test_published_progressions_come_out_as_their_own_patterns(name: str, chart: str, first: int, last: int) -> None:
    made = parse_pattern(pattern(read(chart), first, last)).pattern
    assert made is not None
    wanted = BUILT_IN[name].pattern.readings
    assert any(
        len(made.readings[0]) == len(terms)
        and all(
            any(one[0].degree == other.degree and other.quality_class in (None, one[0].quality_class) for other in term)
            for one, term in zip(made.readings[0], terms, strict=True)
        )
        for terms in wanted
    )


def test_the_key_and_the_goal_can_both_be_counted_from() -> None:
    analysis = read(HOME_CHART)
    events = chosen.between(1, 3, len(analysis.readings))
    assert [(one.note.text, one.degree) for one in chosen.centres(analysis, events)] == [("Bb", "4"), ("F", "1")]
    assert pattern(analysis, 1, 3, count=1) == "5min 1dom 4maj"
    at_home = chosen.between(5, 8, len(analysis.readings))
    assert [one.note.text for one in chosen.centres(analysis, at_home)] == ["F"]


@pytest.mark.parametrize(
    ("chart", "first", "last", "loose", "says"),
    [
        ("key: C\n| C6 | Dm7 |", 0, 0, Loose(), "at least two"),
        ("key: C\n| C6 | Cmaj7 |", 0, 1, Loose(), "at least two"),  # one kind on one root: one term
        ("key: C\n| C6 | N.C. | G7 |", 0, 2, Loose(), "N.C."),
        ("key: C\n| C6 | G7 | C6 |", 0, 2, Loose(optional=frozenset({0, 1})), "have to stay"),
        ("key: C\n| " + " | ".join(["C6", "A7", "Dm7", "G7"] * 5) + " |", 0, 19, Loose(), "at most 16"),
    ],
)
def test_what_makes_no_pattern_says_what_to_choose(chart: str, first: int, last: int, loose: Loose, says: str) -> None:
    with pytest.raises(NotAPattern, match=says):
        pattern(read(chart), first, last, loose)


CHORDS = st.sampled_from(
    ["Cmaj7", "C6", "Am7", "A7", "Dm7", "D7", "G7", "G7sus4", "Db7", "Em7b5", "Fm6", "Bb7", "Ebdim7", "Caug", "F/C"]
)


@given(st.lists(CHORDS, min_size=3, max_size=8), st.data())
def test_by_the_distances_alone_chosen_bars_always_find_themselves(names: list[str], data: st.DataObject) -> None:
    analysis = read("key: C\n| " + " | ".join(names) + " |")
    last = len(analysis.readings) - 1
    first = data.draw(st.integers(0, last - 1))
    events = chosen.between(first, data.draw(st.integers(first + 1, last)), last + 1)
    try:
        made = pattern(analysis, events[0], events[-1], Loose(where=SOUND))
    except NotAPattern:
        return
    assert parse_pattern(made).pattern is not None
    assert chosen.finds_itself(analysis, events, made)
