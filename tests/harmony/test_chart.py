"""Chart text: cases, then properties. The notation is our own (docs/chart-text.md); the meaning of repeats, endings
and jumps is common practice, no single source."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tunes.harmony.charts import (
    Chart,
    Metre,
    chart_in_key,
    make_chart,
    parse_chart,
    transpose_chart,
    write_chart,
)
from tunes.harmony.pitch.spelling import Interval, Key


def read(text):
    reading = parse_chart(text)
    assert reading.chart is not None
    assert not reading.problems, reading.problems
    return reading.chart


def starts(text, bar=0):
    return [(slot.text, slot.start, slot.duration) for slot in read(text).bars[bar].slots]


def order(text):
    """Bars as they are played, numbered as printed."""
    chart = read(text)
    return [chart.bars[place.bar].number for place in chart.unfold()]


PLACES = [
    ("| C |", [("C", 0, 4)]),
    ("| C G7 |", [("C", 0, 2), ("G7", 2, 2)]),
    ("| C A7 D7 G7 |", [("C", 0, 1), ("A7", 1, 1), ("D7", 2, 1), ("G7", 3, 1)]),
    ("| C / / G7 |", [("C", 0, 3), ("G7", 3, 1)]),
    ("| C /// |", [("C", 0, 4)]),
    ("| C// G7 |", [("C", 0, 3), ("G7", 3, 1)]),
    ("| C G7@2.5 |", [("C", 0, Fraction(3, 2)), ("G7", Fraction(3, 2), Fraction(5, 2))]),
    ("| C@1 A7@2 G7@4 |", [("C", 0, 1), ("A7", 1, 2), ("G7", 3, 1)]),
    ("metre: 3/4\n| C G7 |", [("C", 0, Fraction(3, 2)), ("G7", Fraction(3, 2), Fraction(3, 2))]),
    ("metre: 3/4\n| C F G |", [("C", 0, 1), ("F", 1, 1), ("G", 2, 1)]),
    ("metre: 6/8\n| C G7 |", [("C", 0, 3), ("G7", 3, 3)]),
    ("metre: 5/4\n| C / / G7 / |", [("C", 0, 3), ("G7", 3, 2)]),
    ("time: 2/2\n| C G7 |", [("C", 0, 1), ("G7", 1, 1)]),
    ("| C(add9) G7(b9, #11) |", [("C(add9)", 0, 2), ("G7(b9, #11)", 2, 2)]),
    ("| N.C. |", [("N.C.", 0, 4)]),
    ("| nc C |", [("N.C.", 0, 2), ("C", 2, 2)]),
    ("| ? |", [("?", 0, 4)]),
    ("| D/F# C/E |", [("D/F#", 0, 2), ("C/E", 2, 2)]),
    ("| C6/9 |", [("C6/9", 0, 4)]),
]


@pytest.mark.parametrize(("text", "places"), PLACES)
def test_where_chords_fall(text, places):
    assert starts(text) == places


def test_a_chord_held_over_the_barline():
    chart = read("| C | / / G7 / |")
    assert [(s.text, s.symbol.text, s.duration) for s in chart.bars[1].slots] == [
        ("/", "C", 2),
        ("G7", "G7", 2),
    ]


ORDERS = [
    ("| C | F |", [1, 2]),
    ("|: C | F :| G |", [1, 2, 1, 2, 3]),
    ("| C | F :| G |", [1, 2, 1, 2, 3]),
    ("|: C | F :|x3 G |", [1, 2, 1, 2, 1, 2, 3]),
    ("|: C |1. F :|2. G | C |", [1, 2, 1, 3, 4]),
    ("|: C |1,2. F :|3. G |", [1, 2, 1, 2, 1, 3]),
    ("|: C | F |1. G | A :|2. B | D |", [1, 2, 3, 4, 1, 2, 5, 6]),
    ("|: C |1. F :|2. G :| A |", [1, 2, 1, 3, 4]),
    ("|: C :| |: F :| G |", [1, 1, 2, 2, 3]),
    ("|: C :|: F :| G |", [1, 1, 2, 2, 3]),
    ("|: C |1. F :|2. G | |: A |1. B :|2. D |", [1, 2, 1, 3, 4, 5, 4, 6]),
    ("| C | F <fine> | G | A <D.C. al fine> |", [1, 2, 3, 4, 1, 2]),
    ("| C | <segno> F | G <D.S.> |", [1, 2, 3, 2, 3]),
    ("| C | <segno> F <to coda> | G <D.S. al coda> | <coda> A |", [1, 2, 3, 2, 4]),
    ("| C | F To Coda | G D.C. al Coda |\nCoda:\n| A | B |", [1, 2, 3, 1, 2, 4, 5]),
    ("| C <fine> |: F :| G <D.C. al fine> |", [1, 2, 2, 3, 1]),
    ("| <pickup 1> G7 | C | F |", [0, 1, 2]),
    ("pickup: 1\n| G7 | C | F |", [0, 1, 2]),
    ("<pickup 1>\n| G7 | C | F |", [0, 1, 2]),
    ("| C | segno F to coda | G D.S. al coda | coda A |", [1, 2, 3, 2, 4]),
    ("| C | F <to coda> | G | <coda> A |", [1, 2, 3]),
    ("| C | % | %2 | F |", [1, 2, 3, 4, 5]),
    ("| <coda> C | F <to coda> |", [1, 2]),
]


@pytest.mark.parametrize(("text", "bars"), ORDERS)
def test_playing_order(text, bars):
    assert order(text) == bars


# Signs that lead nowhere are told, and the chart is played all the same (common practice, no source).
LOST = [
    ("|: C |1. F :|2. G <D.C. al fine> | A |", [1, 2, 1, 3, 1, 3, 4]),
    ("| C <D.S.> |", [1, 1]),
    ("|2. C | F |", [1, 2]),
    ("|: C | F |", [1, 2]),
    ("| 1. C | 2. D |", [1]),
    ("| C | F <D.C. al coda> |", [1, 2, 1, 2]),
    ("| C <to coda> | F |", [1, 2]),
]


@pytest.mark.parametrize(("text", "bars"), LOST)
def test_a_sign_that_leads_nowhere_is_told_and_the_chart_is_played(text, bars):
    reading = parse_chart(text)
    assert [reading.chart.bars[place.bar].number for place in reading.chart.unfold()] == bars
    assert len(reading.problems) == 1


@pytest.mark.parametrize(
    ("text", "labels"),
    [
        ("[A] | C | [B] | D |", [("A", 0, 1), ("B", 1, 1)]),
        ("[A] | C | [B] D | F |", [("A", 0, 1), ("B", 1, 2)]),
        ("| C | [Bridge] F | G |", [("", 0, 1), ("Bridge", 1, 2)]),
        ("| C | [F7] |", [("", 0, 2)]),
    ],
)
def test_a_section_can_begin_in_the_middle_of_a_line(text, labels):
    reading = parse_chart(text)
    assert not reading.problems
    assert [(s.label, s.first_bar, s.bars) for s in reading.chart.sections] == labels
    assert parse_chart(write_chart(reading.chart)).chart == reading.chart


def test_passes_are_counted():
    chart = read("|: C |1. F :|2. G |")
    assert [(place.bar, place.pass_no) for place in chart.unfold()] == [(0, 1), (1, 1), (0, 2), (2, 2)]


def test_everything_at_once():
    chart = read(
        "title: Kettle Road\nkey: Eb\nmetre: 4/4\ncomposer: A. Nobody\n# by ear\nA:\n|: Ebmaj7 | Cm7 F7 |1. Bb7 :|2. Eb6 ||\n"
        '[B]\n| Abmaj7 | % | "solo break" N.C. | (3/4) G7 | <4/4> C7 / / F7 ||\n'
    )
    assert (chart.title, chart.key.text, chart.headers) == (
        "Kettle Road",
        "Eb major",
        (("composer", "A. Nobody"),),
    )
    assert [(s.label, s.first_bar, s.bars) for s in chart.sections] == [("A", 0, 4), ("B", 4, 5)]
    assert chart.bars[0].notes == ("by ear",)
    assert chart.bars[5].copied
    assert chart.bars[5].slots == chart.bars[4].slots
    assert chart.bars[6].comment == "solo break"
    assert [bar.metre.text for bar in chart.bars[6:]] == ["4/4", "3/4", "4/4"]
    assert [place.section_label for place in chart.unfold()] == ["A"] * 6 + ["B"] * 5
    events = chart.events()
    assert [event.index for event in events] == list(range(len(events)))
    assert len(events) == 14
    assert [e.text for e in events[-2:]] == ["C7", "F7"]
    assert (events[-1].onset, events[-1].duration, events[-1].chorus_bar, events[-1].bar) == (3, 1, 10, 8)


PROBLEMS = [
    ("| C | Cfoo |", 1, 2, "Cfoo", "C"),
    ("| C | cm7 |", 1, 2, "cm7", "Cm7"),
    ("| C G |\n| F | Hm |", 2, 3, "Hm", "Bm"),
    ("| C F G |", 1, 1, "C F G", "C / F G"),
    ('| C F "soft" G |', 1, 1, 'C F "soft" G', '"soft" C / F G'),
    ("| C F G A D |", 1, 1, "C F G A D", "C F | G / A D"),
    ("| C / G |", 1, 1, "C / G", "C / G /"),
    ("| C / / / / G |", 1, 1, "C / / / / G", "C G"),
    ("| C | | F |", 1, 2, " ", " % "),
    ("| % | C |", 1, 1, "%", "?"),
    ("| C | %3 |", 1, 2, "%3", "%"),
    ("| C | % G |", 1, 2, "%", "% |"),
    ("| C | <3/4> % |", 1, 2, "%", "?"),
    ("| C | G7@6 |", 1, 2, "G7@6", "G7"),
    ("| C | G7@3 C@2 |", 1, 2, "G7@3 C@2", "C@2 G7@3"),
    ("| C | G7@x |", 1, 2, "G7@x", "G7@3"),
    ("| C | <hello> F |", 1, 2, "<hello>", '"hello"'),
    ("| C | (3/5) F |", 1, 2, "(3/5)", "3/4"),
    ('| C | "what F |', 1, 1, '"what F ', '"what F"'),
    ("| C | <pickup 1> F |", 1, 2, "<pickup 1>", ""),
    ("| / / C / |", 1, 1, "/", "N.C."),
    ("key: H\n| C |", 1, -1, "H", "B major"),
    ("metre: 4/5\n| C |", 1, -1, "4/5", "4/4"),
    ("| C |\nkey: F\n| F |", 2, -1, "key: F", "# key: F"),
    ("Dm7 G7\n| C |", 1, -1, "Dm7 G7", "| Dm7 G7 |"),
    ("| C |\nwords of a song\n| F |", 2, -1, "words of a song", "# words of a song"),
    ("| C | - |", 1, 2, "-", "%"),
    (":| C |", 1, -1, ":|", "|"),
    ("| C |:", 1, -1, "|:", "|"),
    ("A:\nB:\n| C |", 1, -1, "A:", ""),
    ("|: C | F |", 1, 2, "|", ":|"),
    ("|: C | F |: G :|", 1, 2, "|:", ":|:"),
    ("|: C |1. F |2. G |", 1, 2, "|", ":|"),
    ("| C <D.S. al coda> | F |", 1, 1, "<D.S. al coda>", "D.C."),
    ("| C | F <D.C. al coda> |", 1, 2, "<D.C. al coda>", "D.C."),
]


@pytest.mark.parametrize(("text", "line", "bar", "place", "advice"), PROBLEMS)
def test_problems_say_where_and_what_to_type(text, line, bar, place, advice):
    reading = parse_chart(text)
    assert reading.chart is not None
    problem = reading.problems[0]
    assert (problem.line, problem.bar, text[problem.start : problem.end], problem.suggestion) == (
        line,
        bar,
        place,
        advice,
    )


@pytest.mark.parametrize(("text", "line", "bar", "place", "advice"), PROBLEMS)
def test_nothing_typed_is_lost(text, line, bar, place, advice):
    written = write_chart(parse_chart(text).chart)
    for word in (
        "Cfoo",
        "cm7",
        "Hm",
        "<hello>",
        "words of a song",
        "what F",
        "key: H",
        "4/5",
        "(3/5)",
        "%3",
        "G7@x",
    ):
        assert (word in text) == (word in written)


@pytest.mark.parametrize("text", ["", "   \n\n", "hello there", "key: F", "A:\n\nB:", "|", "||:"])
def test_no_bars_at_all(text):
    reading = parse_chart(text)
    assert reading.chart is None
    assert reading.problems


def test_written_form():
    text = (
        "title: Two Rooms\nkey: C minor\nmetre: 3/4\n\nA:\n|: <pickup 1> G7 | Cm7 / F7 | %2 |1. Dm7b5@1 G7@2.5 :|2. "
        'Cm6 <D.C. al fine> ||\n| N.C. | "tacet" ? |'
    )
    reading = parse_chart(text)
    assert write_chart(parse_chart(write_chart(reading.chart)).chart) == write_chart(reading.chart)


OLD_AND_NEW = (
    (
        "| <pickup 1> G7 | C | F <fine> | G <D.C. al fine> |",
        "metre: 4/4\npickup: 1\n\n| G7 | C | F Fine | G D.C. al fine |",
    ),
    (
        "| <segno> C <to coda> | <3/4> F <D.S. al coda> | <coda> G |",
        "metre: 4/4\n\n| segno C to coda | 3/4 F D.S. al coda | coda G |",
    ),
    ("<pickup 1.5>\n| G7 | C |", "metre: 4/4\npickup: 1.5\n\n| G7 | C |"),
)


@pytest.mark.parametrize(("old", "new"), OLD_AND_NEW)
def test_signs_are_written_without_brackets_and_read_with_them(old, new):
    chart = read(old)
    assert write_chart(chart) == new
    again = read(new)
    assert again.bars == chart.bars
    assert chart.bars[0].number == (0 if "pickup" in old else 1)


@pytest.mark.parametrize(
    ("text", "marked", "instead"),
    [
        ("pickup: many\n| C |", "many", "1"),
        ("pickup: 9\n| C | F |", "9", "1"),
    ],
)
def test_a_pickup_that_is_none_is_told_in_its_line(text, marked, instead):
    problem = parse_chart(text).problems[0]
    assert text[problem.start : problem.end] == marked
    assert problem.suggestion == instead


def test_line_breaks_are_kept():
    text = "metre: 4/4\n\nA:\n| C | F | G |\n| C | F | G |"
    assert write_chart(read(text)) == text
    assert write_chart(parse_chart(make_chart(["C"] * 6)).chart).count("\n") == 3


@pytest.mark.parametrize("key", ["Db", "E", "F#", "Bb"])
def test_in_another_key(key):
    chart = read("key: Eb\n| Ebmaj7 | G7alt/B Fm7b5 | / / N.C. / | ? |")
    moved = chart_in_key(chart, Key.parse(key))
    assert abs(moved.key.fifths) <= 6
    back = chart_in_key(moved, Key.parse("Eb"))
    assert [e.symbol for e in back.events()] == [e.symbol for e in chart.events()]
    first = moved.events()[0].symbol
    assert first.root == moved.key.tonic
    assert parse_chart(write_chart(moved)).chart == moved


def test_transposing_keeps_unread_text():
    chart = parse_chart("| Cfoo | C |").chart
    assert [e.text for e in transpose_chart(chart, Interval.parse("M2")).events()] == ["Cfoo", "D"]


# --- properties ---

CHORDS = st.sampled_from(
    [
        "C",
        "Dm7",
        "G7",
        "Bb7(b9,#11)",
        "F#m7b5",
        "Ebmaj7/G",
        "A°7",
        "N.C.",
        "?",
        "Cfoo",
        "cm7",
        "H7",
        "D/C7",
        "B♭Δ",
        "G7sus4",
        "-",
        "()",
        "C7(b9,",
        "C@2",
        "G7@2.5",
        "F@7",
        "E@x",
    ]
)
MARKS = st.sampled_from(
    ["%", "%2", "%9", "/", "//", '"a b"', '"open', "<segno>", "<coda>", "<to coda>", "<fine>", "<D.S. al coda>", "<D.C.>",
     "<3/4>", "<pickup 1>", "<oops>", "6/8", "Fine", "to coda", "D.C. al fine"]
)  # fmt: skip
BARLINES = st.sampled_from(["|", "|", "|", "||", "|:", ":|", ":|x3", ":|:", "|1. ", ":|2. ", "|]", "\n| ", "\n"])
LINES = st.sampled_from(
    ["\nA:\n", "\n[B]\n", "\nkey: F\n", "\nmetre: 3/4\n", "\n# note\n", "\ntitle: x\n", "\nfoo: bar\n", "\nBridge: | C |\n",
     "\nwords here\n", "\nkey: zz\n", "\n[key]\n"]
)  # fmt: skip
PIECES = st.lists(st.one_of(CHORDS, CHORDS, MARKS, BARLINES, BARLINES, LINES), max_size=40)


def check_round_trip(text):
    reading = parse_chart(text)
    for problem in reading.problems:
        assert 0 <= problem.start <= problem.end <= len(text)
    if reading.chart is None:
        return
    written = write_chart(reading.chart)
    again = parse_chart(written)
    assert again.chart == reading.chart, written
    assert write_chart(again.chart) == written
    check_bars(reading.chart)


def check_bars(chart):
    for bar in chart.bars:
        assert bar.slots
        assert bar.slots[0].start == 0
        assert sum(slot.duration for slot in bar.slots) == bar.beats
    assert sum(section.bars for section in chart.sections) == len(chart.bars)
    assert 1 <= len(chart.unfold()) <= 4096
    for event in chart.events():
        assert chart.bars[event.bar].slots[event.slot].symbol == event.symbol


@given(PIECES, st.sampled_from([" ", ""]))
def test_any_mixture_of_marks_round_trips(pieces, glue):
    check_round_trip(glue.join(pieces))


@given(st.text('AbCDEFGm7|:%/ \n.12<>"()@#[]xNÇ?-', max_size=80))
def test_any_characters_round_trip(text):
    check_round_trip(text)


@given(st.text(max_size=200))
def test_never_raises_on_any_text(text):
    check_round_trip(text)


@given(st.lists(st.text("ABDEFGbm7#xyz", min_size=1, max_size=6), min_size=1, max_size=4))
def test_every_word_typed_in_a_bar_is_kept(words):
    chart = parse_chart(f"| {' '.join(words)} |").chart
    assert chart is not None
    assert " ".join(slot.text for slot in chart.bars[0].slots if slot.text != "/") == " ".join(words)


def test_long_charts_are_bounded():
    reading = parse_chart("| C " * 5000 + "|")
    assert len(reading.chart.bars) == 2000
    assert len(reading.problems) == 1
    assert isinstance(reading.chart, Chart)
    assert reading.chart.metre == Metre(4, 4)


def test_repeats_that_never_end_are_bounded():
    assert len(parse_chart("|: C | <segno> F :|x16 <D.S. al coda> |: G :|x16").chart.unfold()) < 200
