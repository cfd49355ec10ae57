"""Marks for the form and for key areas; the shares are the marking table's own (common practice, no source)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drills.comparers.form import read_letters, read_numbers
from drills.comparers.key_areas import Area, align, read_areas
from drills.comparers.types import StoredKey
from drills.marking import Context, Strictness, echo, mark
from drills.questions import build
from drills.questions.form import form_facts
from drills.questions.key_areas import with_both_counts
from tests.drills.quiz_cases import Study, studied, study
from tests.drills.studies import chart
from tunes.harmony.pitch.spelling import MAJOR_KEYS, Interval, Key

EASY = Strictness()
FORM = {question.context["part"]: question.key for question in build("form", study())}
AREAS = build("key-areas", study())[0].key

LETTERS = (
    ("AABA", "form-exact", 1.0), ("A A B A", "form-exact", 1.0), ("a-a-b-a", "form-exact", 1.0), ("A, A', B, A''", "form-exact", 1.0),
    ("A1 A2 B A3", "form-exact", 1.0), ("32-bar AABA", "form-exact", 1.0), ("AABA form", "form-exact", 1.0), ("BBAB", "form-other-letters", 0.75),
    ("32", "form-length-only", 0.5), ("ABBA", "form-one-section", 0.5), ("AAB", "form-one-section", 0.5), ("ABCD", "other", 0.0), ("", "blank", 0.0),
    ("???", "unreadable", 0.0),
)  # fmt: skip
LENGTHS = (
    ("8", "form-exact", 1.0), ("8 8 8 8", "form-exact", 1.0), ("8+8+8+8", "form-exact", 1.0), ("4 x 8", "form-exact", 1.0), ("8 bars each", "form-exact", 1.0),
    ("A8 A8 B8 A8", "form-exact", 1.0), ("16 16", "form-coarser", 0.75), ("32", "form-length-only", 0.5), ("8 8 4 8", "form-one-section", 0.5), ("12", "other", 0.0),
)  # fmt: skip
BARS = (("32", "form-exact", 1.0), ("32 bars", "form-exact", 1.0), ("8 8 8 8", "form-exact", 1.0), ("64", "form-half-or-double", 0.5), ("16", "form-half-or-double", 0.5),
        ("31", "form-near", 0.5), ("12", "other", 0.0))  # fmt: skip
BRIDGE = (
    ("17", "form-exact", 1.0),
    ("bar 17", "form-exact", 1.0),
    ("16", "form-near", 0.5),
    ("B", "form-letter-for-bar", 0.25),
    ("9", "other", 0.0),
)


@pytest.mark.parametrize(
    ("part", "answer", "rule", "points"),
    [
        (part, *row)
        for part, rows in (("letters", LETTERS), ("lengths", LENGTHS), ("bars", BARS), ("bridge", BRIDGE))
        for row in rows
    ],
)
def test_the_form(part: str, answer: str, rule: str, points: float) -> None:
    found = mark("form", FORM[part], answer, EASY)
    assert (found.rule, found.points) == (rule, points)


def test_the_form_of_a_chart() -> None:
    facts = form_facts(study().chart)
    assert ("".join(facts.letters), facts.lengths, facts.bars, facts.bridge) == ("AABA", (8, 8, 8, 8), 32, 17)


FORMS = (
    ("[A]\n|: Dm7 | G7 | C | C :|\n[B]\n| F | F | G7 | G7 |\n[A]\n| Dm7 | G7 | C | C |", "AABA", (4, 4, 4, 4), 9),
    ("[A]\n| C7 | F7 | C7 | C7 | F7 | F7 | C7 | C7 | G7 | F7 | C7 | G7 |", "A", (12,), None),
    ("[Intro]\n| G7 | G7 |\n[A]\n| C | F |\n[B]\n| F | G7 |\n[A]\n| C | F |\n[C]\n| C | G7 |\n[Coda]\n| C | C |", "ABAC", (2, 2, 2, 2), 3),
)  # fmt: skip


@pytest.mark.parametrize(("text", "letters", "lengths", "bridge"), FORMS)
def test_sections_count_as_they_are_played(
    text: str, letters: str, lengths: tuple[int, ...], bridge: int | None
) -> None:
    facts = form_facts(chart(text))
    assert ("".join(facts.letters), facts.lengths, facts.bridge) == (letters, lengths, bridge)


def test_a_blues_is_asked_for_its_name() -> None:
    blues = Study(chart(FORMS[1][0]), study().analysis)
    asked = {question.context["part"]: question.key for question in build("form", blues)}
    assert set(asked) == {"bars", "name"}
    for text, points in (("12-bar blues", 1), ("Blues", 1), ("12 bars", 0.5), ("16-bar blues", 0.75), ("AABA", 0)):
        assert mark("form", asked["name"], text, EASY).points == points


def test_letters_are_found_where_none_were_typed() -> None:
    a, b = "| Dm7 | G7 | C | C | Dm7 | G7 | C | C |\n", "| F | F | Bb | Bb | E7 | A7 | D7 | G7 |\n"
    facts = form_facts(chart(a + a + b + a))
    assert ("".join(facts.letters), facts.bridge, facts.bars) == ("AABA", 17, 32)


def test_echoes_show_what_was_asked() -> None:
    assert echo("form", "A1 A2 B A3", {"part": "letters"}).text == "sections A A B A"
    assert echo("form", "4 x 8", {"part": "lengths"}).text == "8 + 8 + 8 + 8 bars"
    assert echo("form", "bar 17", {"part": "bridge"}).text == "bar 17"
    assert not echo("form", "?", {"part": "letters"}).ok
    assert echo("key-areas", "1 F, 9 Ab minor").text == "from bar 1 F, from bar 9 A♭ minor"


AREA_TABLE = (
    ("1 C, 16 Ab, 22 C", "areas-exact", 1.0), ("C 1-15; Ab 16-21; C 22-32", "areas-exact", 1.0), ("bar 1: C\nbar 16: A flat major\nbar 22: C", "areas-exact", 1.0),
    ("1 C, 16 G#, 22 C", "areas-exact", 1.0), ("1 C, 17 Ab, 22 C", "areas-near-bar", 0.92), ("1 C, 18 Ab, 22 C", "areas-two-bars", 0.83),
    ("1 C, 16 F minor, 22 C", "areas-relative", 0.83), ("1 C, 16 Ab minor, 22 C", "areas-parallel", 0.83), ("1 C, 16 Ab", "areas-missing", 0.67),
    ("1 C", "areas-missing", 0.33), ("1 C, 5 F, 16 Ab, 22 C", "areas-extra", 0.83), ("1 D, 9 E", "areas-missing", 0.0), ("", "blank", 0.0),
    ("C then Ab", "unreadable", 0.0), ("hello", "unreadable", 0.0),
)  # fmt: skip


@pytest.mark.parametrize(("answer", "rule", "points"), AREA_TABLE)
def test_key_areas(answer: str, rule: str, points: float) -> None:
    found = mark("key-areas", AREAS, answer, EASY)
    assert (found.rule, found.points) == (rule, points)


# A repeated A written once with two endings; the B and its last A follow. By hand: written 1-8, endings 7-8 and 9-10,
# bridge 11, last A 19; as played the second ending is 15-16, the bridge 17, the last A 25. Common practice, no source.
FOLDED = """key: F major
[A]
|: Fmaj7 | Gm7 C7 | Am7 Dm7 | Gm7 C7 | Fmaj7 F7 | Bbmaj7 Bbm6 | 1. Am7 Dm7 | Gm7 C7 :| 2. Gm7 C7 | Fmaj7 |
[B]
| Ebm7 Ab7 | Dbmaj7 | Ebm7 Ab7 | Dbmaj7 | Ebm7 Ab7 | Dbmaj7 | Gm7 | C7 |
[A]
| Fmaj7 | Gm7 C7 | Am7 Dm7 | Gm7 C7 | Fmaj7 F7 | Bbmaj7 Bbm6 | Gm7 C7 | Fmaj7 |
"""
INTRO = "[Intro]\n| G7 | G7 |\n[A]\n| C | F |\n[B]\n| F | G7 |\n[A]\n| C | F |\n[C]\n| C | G7 |"


def folded(text: str = FOLDED) -> Study:
    return studied(chart(text))


@pytest.mark.parametrize(
    ("text", "answer", "rule", "points"),
    [
        (FOLDED, "17", "form-exact", 1.0),
        (FOLDED, "bar 11", "form-other-count", 1.0),
        (FOLDED, "16", "form-near", 0.5),
        (FOLDED, "12", "form-near", 0.5),
        (FOLDED, "9", "other", 0.0),
        (INTRO, "3", "form-exact", 1.0),
        (INTRO, "5", "form-other-count", 1.0),
        (INTRO, "7", "other", 0.0),
    ],
)
def test_the_bridge_is_counted_as_played_and_found_by_its_printed_number(
    text: str, answer: str, rule: str, points: float
) -> None:
    (question,) = (one for one in build("form", folded(text)) if one.context["part"] == "bridge")
    assert "as it is played" in question.prompt
    found = mark("form", question.key, answer, EASY)
    assert (found.rule, found.points) == (rule, points)
    if text == FOLDED:
        assert "starts in bar 17 (written 11)" in found.feedback


def older(key: StoredKey) -> StoredKey:
    """A key of the key areas as it was stored while only printed bars were known."""
    rows = [{name: value for name, value in row.items() if name != "played"} for row in key["areas"]]
    return {name: value for name, value in key.items() if name != "as_played"} | {"areas": rows}


@pytest.mark.parametrize(
    "text",
    [
        FOLDED,
        "key: C\n|: Cmaj7 | Dm7 G7 |1. Fm7 | Bb7 :|2. Cmaj7 | % |\n| Ebmaj7 | Abmaj7 | Dm7 | G7 |",
        "key: C\n|: Cmaj7 | Am7 | Dm7 | G7 :|x3\n| Abm7 | Db7 | Gbmaj7 | % |",
        "key: Bb\n<segno>| Bbmaj7 | Cm7 F7 | Bbmaj7 <to coda> | % |\n| Em7 | A7 | Dmaj7 | F7 <D.S. al coda> |\n<coda>| Abmaj7 | Bbmaj7 |",
    ],
)
def test_an_older_key_area_key_gets_the_bars_as_played(text: str) -> None:
    """Worked out from the chart alone, it is what a quiz issued today stores; the newer build is the reference."""
    made = folded(text)
    (question,) = build("key-areas", made)
    assert with_both_counts(older(question.key), made.chart) == question.key
    assert with_both_counts(question.key, made.chart) is question.key


def test_a_key_area_key_of_a_chart_without_repeats_stays_as_it_is() -> None:
    made = folded(INTRO)
    (question,) = build("key-areas", made)
    assert with_both_counts(older(question.key), made.chart) == older(question.key)


def test_a_quiz_stored_before_both_counts_were_kept_is_marked_by_both() -> None:
    (question,) = (one for one in build("form", folded()) if one.context["part"] == "bridge")
    old = {name: value for name, value in question.key.items() if name != "played"} | {"bridge": 11}
    assert [mark("form", old, text, EASY).points for text in ("17", "11", "4")] == [1.0, 1.0, 0.0]


def test_key_areas_may_be_counted_as_written_or_as_played() -> None:
    (question,) = build("key-areas", folded())
    rows = [(area["bar"], area["played"], area["key"]) for area in question.key["areas"]]
    assert (11, 17, "Db major") in rows
    assert "as played" in question.prompt
    for count in (0, 1):
        text = ", ".join(f"{row[count]} {row[2]}" for row in rows)
        found = mark("key-areas", question.key, text, EASY)
        assert (found.points, found.rule) == (1.0, "areas-exact"), text
        assert f"Your bars were read {('as written', 'as played')[count]}" in found.feedback
    assert "From bar 17 (written 11) D♭: right." in found.feedback
    mixed = mark("key-areas", question.key, f"1 F, 17 Db, {rows[-1][0]} F", EASY)
    assert mixed.points < 1


def test_areas_within_a_repeated_section_may_be_given_each_time() -> None:
    text = "key: C major\n[A]\n|: Cmaj7 | Dm7 G7 | Cmaj7 | Bbm7 Eb7 | Abmaj7 | Abmaj7 | Dm7 G7 | Cmaj7 :|\n[B]\n| Fmaj7 | Dm7 | G7 | Cmaj7 |"
    (question,) = build("key-areas", folded(text))
    played = [(area["bar"], area["key"]) for area in question.key["as_played"]]
    assert len(played) > len(question.key["areas"])
    assert mark("key-areas", question.key, ", ".join(f"{bar} {key}" for bar, key in played), EASY).points == 1
    plain = build("key-areas", study())[0]
    assert "as_played" not in plain.key
    assert "as played" not in plain.prompt


BEATS = {
    "kind": "key-areas",
    "home": "F major",
    "areas": [{"bar": 1, "beat": "1", "key": "F major"}, {"bar": 7, "beat": "3", "key": "Bb major"}],
}


@pytest.mark.parametrize(
    ("answer", "rule", "points", "told"),
    [
        ("1 F, 7 Bb", "areas-exact", 1.0, "right; it begins inside the bar, on beat 3."),
        ("1 F, 7 beat 3 Bb", "areas-exact", 1.0, "From bar 7, beat 3, B♭: right."),
        ("1 F, 7.3 Bb", "areas-exact", 1.0, "right."),
        ("1 F, Bb from bar 7, beat 3", "areas-exact", 1.0, "right."),
        ("1 F, beat 3 of bar 7 Bb", "areas-exact", 1.0, "right."),
        ("1 F, 7 beat 1 Bb", "areas-other-beat", 0.95, "another beat; it begins in bar 7 on beat 3."),
        ("1 F, 8 Bb", "areas-near-bar", 0.88, "one bar off; it begins in bar 7 on beat 3."),
    ],
)
def test_a_beat_may_be_added_and_nothing_is_forgiven_in_silence(
    answer: str, rule: str, points: float, told: str
) -> None:
    found = mark("key-areas", BEATS, answer, EASY)
    assert (found.rule, found.points) == (rule, points)
    assert told in found.feedback
    assert "beat" in build("key-areas", study())[0].prompt


@pytest.mark.parametrize("key", MAJOR_KEYS, ids=lambda key: key.short)
def test_key_areas_in_twelve_keys_and_in_written_pitch(key: Key) -> None:
    stored = build("key-areas", study(key))[0].key
    for written in ("P1", "M2", "M6", "M9"):
        move = Interval.parse(written)
        text = ", ".join(f"{area['bar']} {Key.parse(area['key']).transposed(move).text}" for area in stored["areas"])
        assert mark("key-areas", stored, text, EASY, Context(key.text, written)).points == 1


keys = st.sampled_from([key.text for key in MAJOR_KEYS])
areas = st.lists(st.tuples(st.integers(1, 32), keys), max_size=6).map(
    lambda rows: [Area(bar, Key.parse(key)) for bar, key in sorted(rows)]
)


@given(areas, areas.filter(bool))
def test_the_matching_is_the_best_there_is(given_areas: list[Area], expected: list[Area]) -> None:
    matches, extra = align(given_areas, expected)
    assert len(matches) == len(expected)
    assert 0 <= extra <= len(given_areas)
    matched = sum(1 for match in matches if match.rule != "areas-missing")
    assert matched + extra == len(given_areas)
    own, none_extra = align(expected, expected)
    assert none_extra == 0
    assert sum(match.points for match in own) == len(expected)


@given(st.text(max_size=400), st.sampled_from(["letters", "lengths", "bars", "bridge"]))
def test_no_text_breaks_the_marking_of_the_form(text: str, part: str) -> None:
    assert 0 <= mark("form", FORM[part], text, EASY).points <= 1
    assert 0 <= mark("key-areas", AREAS, text, EASY).points <= 1
    assert len(read_letters(text)) <= len(text)
    assert all(number <= 999 for number in read_numbers(text))
    assert isinstance(read_areas(text), str | tuple)
