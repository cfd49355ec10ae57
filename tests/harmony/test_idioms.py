"""Idioms over functions. The progressions are those of the published and common-practice table named in
`idiom_table`; each is found in all twelve keys, across barlines and through the repeat."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.harmony import TRIED_MAJOR
from tunes.harmony.pitch.spelling import MAJOR_KEYS, Key
from tunes.harmony.progressions.idioms import BUILT_IN, find_idioms, make_idiom
from tunes.harmony.progressions.index import IdiomIndex
from tunes.harmony.progressions.pattern import parse_pattern
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.reading import Analysis, Reading
from tunes.harmony.readings.reason import Reason
from tunes.harmony.readings.rule_ids import RuleId

DEGREES = ("1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7")
QUALITY = {
    "maj": "maj7",
    "min": "m7",
    "dom": "7",
    "half": "m7b5",
    "dim": "dim7",
    "aug": "aug",
    "sus": "7sus",
    None: "7",
}


SAID = Reason(rule=RuleId.BY_HAND)


def reading(event, key, degree, quality, target=None, of=None, bass=""):
    function = Function(degree, quality, "", "diatonic", target, False, of)
    return Reading(
        event=event,
        key=key,
        function=function,
        resolves_to=None,
        resolution="none",
        reason=SAID,
        local_key=key,
        bass=bass,
    )


def analysis(key, *chords):
    """Chords as "2 m7" or "2 m7 >4 2" (target and what it is to the target), "1 m7 _b7" over a bass."""
    readings = []
    for event, chord in enumerate(chords):
        chord, _, bass = chord.partition(" _")
        degree, quality, *rest = chord.split()
        target = rest[0].lstrip(">") if rest else None
        readings.append(
            reading(event, key, degree, "" if quality == "-" else quality, target, rest[1] if rest else None, bass)
        )
    return Analysis(home=key, areas=(), readings=tuple(readings), landing=(None,) * len(readings), engine="test")


def as_chords(idiom):
    """The progression that a pattern describes, first alternatives taken."""
    found = []
    for term in idiom.pattern.readings[0]:
        choice = term[0]
        degree = choice.bass if choice.degree is None else choice.degree
        quality = QUALITY[choice.quality_class] if choice.quality is None else choice.quality or "-"
        bass = "" if choice.bass in (None, degree) else f" _{DEGREES[choice.bass]}"
        found.append(f"{DEGREES[degree]} {quality}{bass}")
    return found


ANYWHERE = [idiom for idiom in BUILT_IN.values() if not idiom.pattern.away_only]
ANYWHERE_IDS = [idiom.id for idiom in ANYWHERE]


@pytest.mark.parametrize("idiom", ANYWHERE, ids=ANYWHERE_IDS)
def test_every_built_in_idiom_is_found_in_every_key(idiom):
    chords = as_chords(idiom)
    for key in TRIED_MAJOR:
        for lead in (0, 3):
            filler = ["7 aug"] * bool(lead)
            found = find_idioms(analysis(key, *filler, *chords, "b2 5"), [idiom])
            assert (idiom.id, len(filler), len(filler) + len(chords) - 1) in [(o.idiom, o.first, o.last) for o in found]
            assert all(o.of == "1" for o in found)


@pytest.mark.parametrize("idiom", ANYWHERE, ids=ANYWHERE_IDS)
def test_through_the_repeat_of_the_form(idiom):
    chords = as_chords(idiom)
    turned = [*chords[1:], "7 aug", chords[0]]
    found = find_idioms(analysis(Key.parse("Eb"), *turned), [idiom])
    assert (len(turned) - 1, len(chords) - 2) in [(o.first, o.last) for o in found]
    assert (len(turned) - 1, len(chords) - 2) not in [
        (o.first, o.last) for o in find_idioms(analysis(Key.parse("Eb"), *turned), [idiom], cyclic=False)
    ]


def test_two_five_of_another_degree():
    chords = analysis(Key.parse("C"), "1 maj7", "5 m7 >4 2", "1 7 >4 5", "4 maj7", "2 m7", "5 7 >1 5")
    found = find_idioms(chords, [BUILT_IN["cadence-major"]])
    assert [(o.first, o.last, o.of) for o in found] == [(1, 3, "4"), (4, 0, "1")]
    home = make_idiom("x", "x", "home: 2min 5dom 1maj")
    assert [(o.first, o.last) for o in find_idioms(chords, [home])] == [(4, 0)]


def test_the_same_chords_without_that_function_are_not_the_idiom():
    # Gm7 C7 Fmaj7 in C, where nothing is heading for F: not a 2 5 1 of anything.
    chords = analysis(Key.parse("C"), "5 m7", "1 7", "4 maj7")
    assert find_idioms(chords, [BUILT_IN["cadence-major"]], cyclic=False) == ()


def test_folded_substitutes():
    chords = analysis(Key.parse("F"), "2 m7", "b2 7 >1 sub5", "1 maj7")
    cadence = [BUILT_IN["cadence-major"]]
    assert find_idioms(chords, cadence, cyclic=False) == ()
    assert [(o.first, o.last) for o in find_idioms(chords, cadence, fold=True, cyclic=False)] == [(0, 2)]
    leading = analysis(Key.parse("F"), "1 maj7", "#1 dim7 >2 7", "2 m7", "5 7")
    assert find_idioms(leading, [BUILT_IN["turnaround-1-5of2-2-5"]], fold=True)
    sus = analysis(Key.parse("F"), "2 m7", "5 7sus", "5 7", "1 maj7")
    assert [(o.first, o.last) for o in find_idioms(sus, cadence, fold=True, cyclic=False)] == [(0, 3)]


def test_a_term_lasts_over_chords_of_one_root():
    chords = analysis(Key.parse("C"), "2 m7", "2 m6", "5 7", "5 7", "1 6", "1 maj7")
    assert [(o.first, o.last) for o in find_idioms(chords, [BUILT_IN["cadence-major"]], cyclic=False)] == [(0, 4)]


def test_no_chord_interrupts():
    key = Key.parse("C")
    readings = [reading(0, key, "2", "m7"), reading(1, key, "5", "7"), reading(2, key, "1", "maj7")]
    silent = replace(readings[1], function=Function("1", "", "none", "no-chord"))
    given = (readings[0], silent, readings[2])
    with_silence = Analysis(home=key, areas=(), readings=given, landing=(None,) * 3, engine="test")
    assert find_idioms(with_silence, [BUILT_IN["cadence-major"]]) == ()


PATTERNS = [
    ("2min 5dom 1maj", 1), ("5/2 2min", 1), ("sub5 1", 1), ("home: 1 * 2min 5dom", 1), ("(4min) b7dom 1maj", 2),
    ("away: 2half 5dom 1min", 1), ("sound: 1maj b3maj 1maj", 1), ("_1 _b7 _6 _b6", 1), ("1maj 5_7 (6min) 1_5", 2),
    ("5dom|b2dom 1", 1), ("1m 1mmaj7 1m7 (1m6)", 2), ("2ø 5+ 1°", 1), ("2m 57 1M", 1),
]  # fmt: skip


@pytest.mark.parametrize(("text", "readings"), PATTERNS)
def test_patterns_read(text, readings):
    pattern = parse_pattern(text).pattern
    assert pattern is not None
    assert len(pattern.readings) == readings
    assert pattern.home_only == text.startswith("home")


def test_of_and_sub():
    by_of = parse_pattern("5/2 2min").pattern.readings[0][0][0]
    assert (by_of.degree, by_of.quality_class) == (9, "dom")
    sub = parse_pattern("sub5/5 5dom").pattern.readings[0][0][0]
    assert (sub.degree, sub.quality_class) == (8, "dom")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "2min",
        "home:",
        "9dom 1",
        "2min 5foo",
        "* *",
        "(2min) 1",
        "H7 1",
        "1 " * 30,
        "2/9 1",
        "1_ 2",
        "_9 _1",
        "1_8 2",
        "home: away: 2min 5dom",
        "home: sound: 1 2",
        "open: sound: 1 2",
    ],
)
def test_bad_patterns_say_where(text):
    reading = parse_pattern(text)
    assert reading.pattern is None
    assert reading.problem is not None
    assert 0 <= reading.problem.start <= reading.problem.end <= len(text)


@given(st.text("123456789b#/|()*: minmajdomhalfsusø°+", max_size=30))
def test_never_raises_on_any_pattern(text):
    assert (parse_pattern(text).pattern is None) == (parse_pattern(text).problem is not None)


CHORDS = st.builds(
    lambda d, q, t, b: f"{d} {q}" + (f" >{t[0]} {t[1]}" if t else "") + (f" _{b}" if b else ""),
    st.sampled_from(DEGREES),
    st.sampled_from(["maj7", "6", "m7", "m6", "mmaj7", "7", "m7b5", "dim7", "7sus", "aug"]),
    st.none() | st.tuples(st.sampled_from(DEGREES), st.sampled_from(["5", "sub5", "2", "7", "b7"])),
    st.none() | st.sampled_from(DEGREES),
)
CHARTS = st.lists(
    st.builds(lambda k, c: analysis(k, *c), st.sampled_from(MAJOR_KEYS), st.lists(CHORDS, min_size=1, max_size=14)),
    max_size=6,
)


@given(CHARTS, st.sampled_from(sorted(BUILT_IN)), st.booleans())
def test_the_index_finds_what_a_walk_finds(charts, idiom_id, fold):
    index = IdiomIndex(fold=fold)
    for number, chart in enumerate(charts):
        index.add(number, chart)
    idiom = BUILT_IN[idiom_id]
    walked = {(n, o) for n, chart in enumerate(charts) for o in find_idioms(chart, [idiom], fold=fold)}
    assert set(index.find(idiom)) == walked
    assert set(index.charts(idiom)) == {n for n, _ in walked}


CLOSE_CHORDS = st.builds(
    lambda d, q, t: f"{d} {q}" + (" >1 5" if t else ""),
    st.sampled_from(["2", "5", "1", "b2"]),
    st.sampled_from(["maj7", "6", "m7", "m6", "7", "7sus", "m7b5"]),
    st.booleans(),
)
CLOSE_CHARTS = st.lists(
    st.lists(CLOSE_CHORDS, min_size=1, max_size=10).map(lambda c: analysis(Key.parse("C"), *c)), max_size=3
)
LOOSE = ["2min 5 1", "2 5 1", "2 * 1", "2min|2half 5dom 1maj", "2m7 2m6 5", "(2min) 5 5sus 1", "2 b2 1 5"]


@given(CLOSE_CHARTS, st.sampled_from(LOOSE), st.booleans())
def test_the_index_finds_terms_that_last_over_several_chords(charts, pattern, early):
    index = IdiomIndex()
    idiom = make_idiom("x", "x", pattern)
    if early:
        list(index.find(idiom))  # asked before the charts came: the answer is kept up
    for number, chart in enumerate(charts):
        index.add(number, chart)
    walked = {(n, o) for n, chart in enumerate(charts) for o in find_idioms(chart, [idiom])}
    assert set(index.find(idiom)) == walked


@given(st.sampled_from(sorted(ANYWHERE_IDS)), st.sampled_from(MAJOR_KEYS))
def test_the_index_finds_every_built_in_idiom(idiom_id, key):
    index = IdiomIndex()
    chart = analysis(key, "7 aug", *as_chords(BUILT_IN[idiom_id]), "b2 5")
    index.add("a", chart)
    assert index.charts(BUILT_IN[idiom_id]) == ["a"]


def test_the_index_forgets_and_replaces():
    index = IdiomIndex()
    cadence = BUILT_IN["cadence-major"]
    index.add("a", analysis(Key.parse("C"), "2 m7", "5 7", "1 maj7"))
    index.add("a", analysis(Key.parse("C"), "2 m7", "4 maj7", "1 maj7"))
    assert index.charts(cadence) == []
    index.add("b", analysis(Key.parse("C"), "2 m7", "5 7", "1 maj7"))
    index.discard("b")
    assert (index.charts(cadence), len(index)) == ([], 1)
