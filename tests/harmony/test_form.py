"""Forms named by comparing sections. Templates: common practice; jazz blues cf. Jacobs, The Changes (2011) p. 12;
blues with descending ii-Vs cf. Baerman, Intermediate Jazz Keyboard (1998) p. 63."""

import pytest

from tests.harmony import TRIED_MAJOR
from tunes.harmony.charts import chart_in_key, parse_chart
from tunes.harmony.form.sections import name_form, same_sections
from tunes.harmony.pitch.spelling import MINOR_KEYS

A1 = "| Cmaj7 | Dm7 G7 | Em7 A7 | Dm7 G7 | Cmaj7 | Fmaj7 Fm6 | Em7 A7 | Dm7 G7 |\n"
A2 = "| Cmaj7 | Dm7 G7 | Em7 A7 | Dm7 G7 | Cmaj7 | Fmaj7 Fm6 | Dm7 G7 | C6 |\n"
B = "| Gm7 | C7 | Fmaj7 | % | Am7 | D7 | Dm7 | G7 |\n"
C = "| Fmaj7 | Fm6 | Em7 | A7 | Dm7 | G7 | C6 | % |\n"
D = "| Am7 | % | D7 | % | Dm7 | % | G7 | % |\n"
RHYTHM_A = "| C A7 | Dm7 G7 | Em7 A7 | Dm7 G7 | C C7 | F F#dim7 | C A7 | Dm7 G7 |\n"
RHYTHM_LAST = "| C A7 | Dm7 G7 | Em7 A7 | Dm7 G7 | C C7 | F F#dim7 | Dm7 G7 | C |\n"
CYCLE = "| E7 | % | A7 | % | D7 | % | G7 | % |\n"
FOUR = "| C6 A7 | Dm7 G7 | C6 A7 | Dm7 G7 "
A_LATE = "| Cmaj7 | Dm7 | Cmaj7 | Am7 | Dm7 | Fm6 | Em7 A7 | Dm7 G7 |\n"

FORMS = [
    ("basic blues", "| C7 | % | % | % | F7 | % | C7 | % | G7 | F7 | C7 | G7 |", "12-bar blues", "basic"),
    ("quick IV", "| C7 | F7 | C7 | % | F7 | % | C7 | % | G7 | F7 | C7 | G7 |", "12-bar blues", "basic"),
    ("jazz blues", "| C7 | F7 | C7 | Gm7 C7 | F7 | F#dim7 | C7 | Em7b5 A7 | Dm7 | G7 | C7 A7 | Dm7 G7 |",
     "12-bar blues", "jazz blues"),
    ("descending", "| Cmaj7 | Bm7b5 E7 | Am7 D7 | Gm7 C7 | F7 | Fm7 Bb7 | Em7 A7 | Ebm7 Ab7 | Dm7 | G7 | Cmaj7 A7 | Dm7 G7 |",
     "12-bar blues", "descending ii–Vs"),
    ("24 bars", "| C7 | % " * 4 + "| F7 | % " * 2 + "| C7 | % " * 2 + "| G7 | % | F7 | % | C7 | % | G7 | % |", "24-bar blues", "basic"),
    ("AABA", A1 + A1 + B + A2, "AABA", "32 bars"),
    ("AABA by repeat", "A:\n|:" + A1[1:].rstrip(" |\n") + ":|\nB:\n" + B + "A:\n" + A2, "AABA", "32 bars"),
    ("AABA by endings", "|: Cmaj7 | Dm7 G7 | Em7 A7 | Dm7 G7 | Cmaj7 | Fmaj7 Fm6 |1. Em7 A7 | Dm7 G7 :|2. Dm7 G7 | C6 ||\nB:\n"
     + B + "A:\n" + A2, "AABA", "32 bars"),
    ("ABAC", A1 + B + A1 + C, "ABAC", "32 bars"),
    ("only the ending comes back", A_LATE + B + A_LATE.replace("Em7 A7 | Dm7 G7 |\n", "C7 | Fmaj7 |\n") + "| Fm6 | Bb7 | Cmaj7 | Am7 | Dm7 | Fm6 | Em7 A7 | Dm7 G7 |\n",
     "ABAC", "32 bars"),
    ("AB", "A:\n" + A1 + "B:\n" + B, "AB", "16 bars"),
    ("ABA", A1 + B + A1, "ABA", "24 bars"),
    ("through-composed", A1 + B + C + D, "through-composed", "32 bars"),
    ("rhythm changes", RHYTHM_A + RHYTHM_A + CYCLE + RHYTHM_LAST, "rhythm changes", "AABA, 32 bars"),
    ("another A", A1 + A1 + CYCLE + A2, "AABA", "rhythm-changes bridge"),
    ("7 bars", "| C | F | C | F | C | F | C |", "7-bar form", ""),
    ("64 bars", (A1 + B) * 2 + C + D + A1 + B, "AABA", "64 bars"),
    ("a tail", A1 + A1 + B + A2.rstrip(" |\n") + " | Em7 A7 | Dm7 G7 | C6 | % |\n", "AABA", "36 bars, the last A 4 longer"),
    ("a typed tail", "A:\n" + A1 + "A:\n" + A1 + "B:\n" + B + "A:\n" + A2.rstrip(" |\n") + " | Dm7 G7 | C6 |\n", "AABA",
     "34 bars, the last A 2 longer"),
    ("a tail of eight", A1 + A1 + B + A2 + D, "AABA", "40 bars, with a tail of 8"),
    ("no tail", A1 + B + C + "| Am7 | D7 |\n", "26-bar form", ""),
    ("ABAC in fours", FOUR + "| F6 | Fm6 | Em7 A7 | Dm7 G7 " + FOUR + "| D7 | G7 | C6 | C6 |", "ABAC", "16 bars"),
    ("AABA in fours", "| C6 | F6 | Dm7 | G7 | C6 | F6 | Dm7 | G7 | E7 | A7 | D7 | G7 | C6 | F6 | Dm7 | C6 |", "AABA", "16 bars"),
    ("two eights", B + C, "AB", "16 bars"),
    ("A of rhythm changes", RHYTHM_A + RHYTHM_A + D + RHYTHM_LAST, "AABA", "rhythm-changes A"),
    ("intro left out", "Intro:\n| G7 | % | % | % |\nA:\n" + A1 + "A:\n" + A1 + "B:\n" + B + "A:\n" + A2, "AABA", "32 bars"),
]  # fmt: skip


@pytest.mark.parametrize(("case", "text", "name", "variant"), FORMS)
def test_form(case, text, name, variant):
    reading = name_form(parse_chart("key: C\n" + text).chart)
    assert (reading.name, reading.variant) == (name, variant)
    assert reading.reason


MINOR = [
    ("| Cm7 | % | % | % | Fm7 | % | Cm7 | % | Ab7 | G7 | Cm7 | Dm7b5 G7 |", "♭VI7 V7"),
    ("| Cm6 | Fm7 | Cm6 | % | Fm7 | % | Cm6 | % | Dm7b5 | G7 | Cm6 | G7 |", "ii V7"),
    ("| Cm6 | % | Cm6 | C7 | Fm7 | % | Cm6 | % | Dm7b5 | Db7 | Cm6 | % |", "ii ♭II7"),
    ("| Cm6 | % | Cm6 | C7 | Fm7 | % | Cm6 | % | Fm7 | G7 | Cm6 | G7 |", "iv V7"),
]


@pytest.mark.parametrize(("text", "how"), MINOR)
def test_minor_blues(text, how):
    for key in MINOR_KEYS:
        chart = chart_in_key(parse_chart("key: Cm\n" + text).chart, key)
        reading = name_form(chart)
        assert (reading.name, reading.variant) == ("minor blues", how)
        assert how in reading.reason


@pytest.mark.parametrize("key", TRIED_MAJOR)
def test_forms_in_three_keys(key):
    for _, text, name, variant in FORMS:
        chart = chart_in_key(parse_chart("key: C\n" + text).chart, key)
        reading = name_form(chart)
        assert (reading.name, reading.variant) == (name, variant)


NOT_BLUES = [
    "| Cmaj7 | % | % | % | Fmaj7 | % | Dm7 | % | Abmaj7 | % | Bbmaj7 | % |",
    "| Dm7 | G7 | C6 | % | Dm7 | G7 | C6 | % | Dm7 | G7 | C6 | % |",
    "| C7 | % | % | % | G7 | % | C7 | % | G7 | F7 | C7 | G7 |",
]


@pytest.mark.parametrize("text", NOT_BLUES)
def test_twelve_bars_are_not_always_blues(text):
    assert name_form(parse_chart("key: C\n" + text).chart).name == "12-bar form"


def test_which_section_repeats_which():
    sections = same_sections(parse_chart("key: C\n" + A1 + A1 + B + A2).chart)
    assert [(s.letter, s.first, s.bars, s.same_as, s.changed) for s in sections] == [
        ("A", 0, 8, None, ()), ("A", 8, 8, 0, ()), ("B", 16, 8, None, ()), ("A", 24, 8, None, (6, 7)),
    ]  # fmt: skip


def test_no_title_can_name_a_form():
    assert name_form(parse_chart("title: Blues in AABA\nkey: C\n| C | F | G |").chart).name == "3-bar form"
