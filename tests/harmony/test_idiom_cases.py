"""Each idiom in charts as they are typed, and where it is not: common practice, no source, unless a test names one."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.harmony import TRIED_MAJOR
from tests.harmony.test_idioms import ANYWHERE, ANYWHERE_IDS, DEGREES, QUALITY, analysis, as_chords
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.charts import parse_chart
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.progressions.idioms import BUILT_IN, find_idioms, make_idiom
from tunes.harmony.progressions.index import IdiomIndex

OPEN = BUILT_IN["two-five-left-open"]


def found_in(text, idiom_id):
    reading = analyse(parse_chart(text).chart)
    return [(o.first, o.last) for o in find_idioms(reading, [BUILT_IN[idiom_id]])]


@pytest.mark.parametrize("text", [
    "| D7 | C | D7 | C |", "| D7 | C |", "| D7 | % | C | % |", "| D7 | Cmaj7 | D7 | Cmaj7 |", "| Eb7 | Db | Eb7 | Db |",
])  # fmt: skip
def test_a_chart_that_is_wholly_a_mixolydian_vamp(text):
    assert found_in(text, "vamp-mixolydian")


@pytest.mark.parametrize("text", ["| C | D7 G7 | C | D7 G7 |", "| D7 | G7 | C | % |", "| Dm7 | C | Dm7 | C |"])
def test_what_is_not_a_mixolydian_vamp(text):
    assert found_in(text, "vamp-mixolydian") == []


def test_a_vamp_of_two_chords_may_go_round_once_more():
    chords = analysis(Key.parse("D"), "1 7", "b7 maj7")
    (found,) = find_idioms(chords, [BUILT_IN["vamp-mixolydian"]])
    assert (found.first, found.last) == (0, 1)
    assert find_idioms(chords, [BUILT_IN["vamp-mixolydian"]], cyclic=False) == ()


@pytest.mark.parametrize("text", [
    "| Dm7 | G7 | Cmaj7 | % |", "| Cmaj7 | % | Dm7 | G7 |", "| Dm7 G7 | Cmaj7 | Dm7b5 G7 | Cm6 |",
    "| Cmaj7 | Am7 | Dm7 | G7sus G7 |",
])  # fmt: skip
def test_a_two_five_that_closes_is_not_left_open(text):
    assert found_in(text, "two-five-left-open") == []


@pytest.mark.parametrize("key", TRIED_MAJOR, ids=str)
def test_left_open_in_every_key(key):
    assert [(o.first, o.last) for o in find_idioms(analysis(key, "2 m7", "5 7", "b3 maj7"), [OPEN])] == [(0, 1)]
    assert find_idioms(analysis(key, "2 m7", "5 7", "1 maj7"), [OPEN]) == ()
    assert find_idioms(analysis(key, "5 7", "1 6", "2 m7"), [OPEN]) == ()  # through the repeat
    assert find_idioms(analysis(key, "2 m7", "5 7", "5 7sus", "1 6"), [OPEN]) == ()


def test_a_delayed_resolution_closes():
    plain = analysis(Key.parse("C"), "2 m7", "5 7 >1 5", "b3 dim7", "1 maj7")
    assert find_idioms(plain, [OPEN])
    late = replace(plain.readings[1], resolves_to=3, resolution="delayed")
    rows = (plain.readings[0], late, *plain.readings[2:])
    assert find_idioms(replace(plain, readings=rows), [OPEN]) == ()


@pytest.mark.parametrize("fold", [False, True])
@pytest.mark.parametrize("idiom", ANYWHERE, ids=ANYWHERE_IDS)
def test_every_idiom_has_its_place_and_not_another(idiom, fold):
    chords = as_chords(idiom)
    broken = [*chords[:-1], "b2 5"] if len(idiom.pattern.readings) == 1 else ["b2 5", *chords[2:]]
    for key in TRIED_MAJOR:
        for lead in ([], ["7 aug"]):
            places = find_idioms(analysis(key, *lead, *chords, "b2 5"), [idiom], fold=fold)
            assert len(lead) in [o.first for o in places]
            whole = find_idioms(analysis(key, *lead, *broken, "7 aug"), [idiom], fold=fold)
            assert (len(lead), len(lead) + len(chords) - 1) not in [(o.first, o.last) for o in whole]


def plain_matches(chords, pattern):
    """Where a row of chords holds a pattern of the home key, by the definition, for rows without repeated roots."""
    size, terms = len(chords), pattern.readings[0]
    pairs = [chord.split()[:2] for chord in chords]
    classes = {quality: name for name, quality in QUALITY.items() if name}
    return {
        start
        for start in range(size)
        if len(terms) <= size
        and all(
            any(c.fits(DEGREES.index(d), classes[q], q) for c in term)
            for term, (d, q) in zip(terms, (pairs * 2)[start:], strict=False)
        )
    }


def on_new_roots(row):
    """The row without chords that repeat a root, and an end that no pattern here asks for."""
    return [b for a, b in pairwise([("", ""), *row]) if a[0] != b[0]] + [("b2", "maj7"), ("b6", "maj7")]


ROWS = st.lists(
    st.tuples(st.sampled_from(["1", "2", "5", "6"]), st.sampled_from(["maj7", "m7", "7"])), min_size=4, max_size=12
).map(on_new_roots)


@given(st.lists(ROWS, min_size=1, max_size=4), st.sampled_from(["2min 5dom", "2min 5dom 1maj", "6 2 5 1", "1 * 2min"]))
def test_the_index_finds_what_the_definition_says(rows, text):
    idiom = make_idiom("x", "x", f"home: {text}")
    index = IdiomIndex()
    charts = [[" ".join(chord) for chord in row] for row in rows]
    for number, chords in enumerate(charts):
        index.add(number, analysis(Key.parse("Eb"), *chords))
    expected = {(n, start) for n, chords in enumerate(charts) for start in plain_matches(chords, idiom.pattern)}
    assert {(n, o.first) for n, o in index.find(idiom)} == expected


SAME_ROOTS = st.lists(
    st.tuples(st.sampled_from(["1", "2", "5"]), st.sampled_from(["maj7", "6", "m7", "m6", "7", "7sus", "dim7"])),
    min_size=1, max_size=10,
)  # fmt: skip
HARD = [
    "1maj 1dim 1maj",
    "2 5 1",
    "2min 5 1|2",
    "2min|5dom 1 5",
    "1 * 5",
    "2 2dom 5 1",
    "open: 2min 5",
    "1m7 1m6 1m7",
    "(2min) 5 1",
    "(5) (1maj) 2 5",
]


@given(st.lists(SAME_ROOTS, max_size=4), st.sampled_from(HARD))
def test_the_index_agrees_with_the_walk_where_roots_repeat(rows, text):
    idiom = make_idiom("x", "x", text)
    charts = [analysis(Key.parse("C"), *(" ".join(chord) for chord in row)) for row in rows]
    index = IdiomIndex()
    for number, chart in enumerate(charts):
        index.add(number, chart)
    assert list(index.find(idiom)) == [(n, o) for n, c in enumerate(charts) for o in find_idioms(c, [idiom])]


@pytest.mark.parametrize("key", TRIED_MAJOR, ids=str)
def test_what_may_be_left_out_is_not_left_out_when_it_is_there(key):
    """One place is one place: flat 7 to 1 after minor 4 is not found again without the minor 4."""
    backdoor = BUILT_IN["backdoor"]
    chart = analysis(key, "1 6", "4 m7", "b7 7", "1 maj7", "2 m7", "b7 7", "1 6", "5 7")
    assert [(o.first, o.last) for o in find_idioms(chart, [backdoor])] == [(1, 3), (5, 6)]
    index = IdiomIndex()
    index.add("a", chart)
    assert [(o.first, o.last) for _, o in index.find(backdoor)] == [(1, 3), (5, 6)]


def test_a_page_of_what_was_found():
    index = IdiomIndex()
    chart = analysis(Key.parse("C"), "2 m7", "5 7", "1 maj7", "2 m7", "5 7", "1 6")
    for name in "abcd":
        index.add(name, chart)
    found = index.find(BUILT_IN["cadence-major"])
    assert (len(found), found.names()) == (8, list("abcd"))
    assert list(found[2:4]) == [(n, o) for n, o in found if n == "b"]
    assert [n for n, _ in found.within("db")] == ["d", "d", "b", "b"]
    for _ in range(100):
        index.add("d", chart)  # replaced again and again: filed anew, and what was found stays readable
    assert len(list(found)) == len(index.find(BUILT_IN["cadence-major"])) == 8
