"""What typed answers earn, against a teacher's marks, and what the site itself says, read back.

The tables in `answers/` name the source of every row; how much a half-right answer earns is common practice, no source.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drills.comparers.function_feedback import feedback
from drills.marking import Context, Strictness, echo, mark
from drills.questions.function import function_key
from drills.questions.places import places
from tests.bench.answers import Row, marked, rows_of, step
from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.answers.reader import display_numeral
from tunes.harmony.charts import parse_chart

FOLDER = Path(__file__).parent / "answers"
TABLES = {path.stem: list(rows_of(path.read_text(encoding="utf-8"))) for path in sorted(FOLDER.glob("*.txt"))}
STRICT = Strictness(quality=True)


@pytest.mark.parametrize("table", TABLES)
def test_marks_are_a_teachers(table: str) -> None:
    rows = TABLES[table]
    found = {row: marked(row.text, row.bar, row.chord, row.typed).points for row in rows}
    differ = [(row, points) for row, points in found.items() if step(points) != step(row.mark)]
    far = [(row, points) for row, points in differ if abs(step(points) - step(row.mark)) > 1]
    told = "\n".join(
        f"{row.chart} {row.bar}.{row.chord} {row.typed!r}: {row.mark:g}, here {points:g}" for row, points in differ
    )
    assert not far, told
    assert len(differ) <= 0.03 * len(rows), told


def test_the_tables_are_large_and_say_why() -> None:
    rows: list[Row] = [row for table in TABLES.values() for row in table]
    assert len(rows) >= 400
    assert len({row.text for row in rows}) >= 15
    assert all(row.why and row.source in ("P", "MH", "NG", "AS", "cp") for row in rows)


CHARTS = sorted({row.text for table in TABLES.values() for row in table})
QUALITIES = ("", "6", "maj7", "7", "7sus4", "m", "m6", "m7", "m7b5", "dim7", "7alt", "+", "m(maj7)", "sus4")
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
chords = st.builds(lambda root, quality: root + quality, st.sampled_from(ROOTS), st.sampled_from(QUALITIES))
made = st.lists(chords, min_size=2, max_size=10).map(lambda row: "key: C major\n| " + " | ".join(row) + " |")


@lru_cache(maxsize=64)
def keys_of(text: str) -> tuple[dict[str, object], ...]:
    chart = parse_chart(text).chart
    assert chart is not None
    analysis, where = analyse(chart), places(chart)
    return tuple(
        function_key(chart, analysis, index, where) for index, event in enumerate(chart.events()) if event.symbol
    )


def _shown(key: dict[str, object]) -> list[str]:
    """Every name of a chord that a page shows beside it: its numeral, with real signs too, its number, its other names."""
    expected = key["expected"]
    return [expected["numeral"], display_numeral(expected["numeral"]), expected["spoken"], *key["equivalents"]]


def _check(text: str) -> None:
    for key in keys_of(text):
        for name in _shown(key):
            found = mark("function", key, name, STRICT, Context(str(key["home"])))
            assert found.points == 1, (text, key["chord"], key["key"], name, found)
        for other in key["alternatives"]:
            for name in (other["function"]["numeral"], other["function"]["spoken"]):
                typed = f"{other['key']}: {name}"
                found = mark("function", key, typed, Strictness(True, "full"), Context(str(key["home"])))
                assert found.points == 1, (text, key["chord"], key["key"], typed, found)


@pytest.mark.parametrize("text", CHARTS, ids=range(len(CHARTS)))
def test_what_the_site_says_itself_is_full_credit(text: str) -> None:
    _check(text)


@settings(max_examples=60, deadline=None)
@given(made)
def test_what_the_site_says_itself_is_full_credit_in_any_chart(text: str) -> None:
    _check(text)


ECHOES = (
    ("2", "C major", "", True, "2 in C: Dm, as the number alone says; any other kind of chord is still open"),
    ("2", "C major", "", False, "2 in C: root D"),
    ("V", "C major", "", True, "V in C: G7, as the numeral alone says; any other kind of chord is still open"),
    ("4 minor", "C major", "", True, "iv in C: Fm"),
    ("I/3", "C major", "Em", True, "I of iii in C: root E; its quality is still open"),
    ("I/5", "C major", "C/G", True, "I in C: C, as the numeral alone says; any other kind of chord is still open, over G"),
    ("V7/ii", "C major", "A7", True, "V7 of ii in C: A7 → Dm7"),
    ("V7 of Fm", "C major", "C7", True, "V7 in F minor: C7"),
    ("secondary dominant", "C major", "A7", True, "a secondary dominant; of which chord is still open, such as V7/ii"),
    ("CT°7", "C major", "Cdim7", True, "common-tone i°7 in C: C°7"),
    ("I in second inversion", "C major", "C/G", False, "I in C: root C, over G"),
)  # fmt: skip


@pytest.mark.parametrize(("typed", "key", "chord", "quality", "said"), ECHOES, ids=[row[0] for row in ECHOES])
def test_the_field_says_what_is_still_open(typed: str, key: str, chord: str, quality: bool, said: str) -> None:
    found = echo("function", typed, {"key": key, "chord": chord, "quality": quality})
    assert (found.text, found.ok) == (said, True)


FORM = "key: F major\n" + "".join(f"{letter}:\n{bars}\n" for letter, bars in (
    ("A", "| Fmaj7 | Gm7 C7 | Fmaj7 | Gm7 C7 | Fmaj7 | Bbmaj7 | Gm7 C7 | Fmaj7 |"),
    ("A", "| Fmaj7 | Gm7 C7 | Fmaj7 | Gm7 C7 | Fmaj7 | Bbmaj7 | Gm7 C7 | Fmaj7 |"),
    ("B", "| Dm7 | Gm7 | Dm7 | Gm7 | Bbmaj7 | Bbm6 | Gm7 | C7 |"),
    ("A", "| Fmaj7 | Gm7 C7 | Fmaj7 | Gm7 C7 | Fmaj7 | Bbmaj7 | Gm7 C7 | Fmaj7 |"),
))  # fmt: skip
FORM_ANSWERS = (
    (1, "A A B A", 1),
    (1, "thirty-two", 0.5),
    (2, "four eights", 1),
    (2, "4 x 8", 1),
    (3, "thirty-two", 1),
    (3, "Thirty two bars", 1),
    (4, "seventeen", 1),
    (4, "bar seventeen", 1),
    (4, "eighteen", 0.5),
)


@pytest.mark.parametrize(("question", "typed", "points"), FORM_ANSWERS)
def test_numbers_in_words_count_bars(question: int, typed: str, points: float) -> None:
    assert marked(FORM, 1, question, typed, "form").points == points


HEARD = (
    # agreed, right bass with a plain triad, the chord over another bass
    ("G7", "G", "G7/B"),
    ("C7/E", "C/E", "C7"),
    ("Bm7b5", "Bdim", "Bm7b5/D"),
    ("D7/F#", "D/F#", "D7/A"),
)


@pytest.mark.parametrize(("agreed", "triad", "elsewhere"), HEARD)
def test_by_ear_a_right_bass_is_worth_more(agreed: str, triad: str, elsewhere: str) -> None:
    """The bass is heard first (common practice, no source)."""
    chart = f"key: C major\n| Cmaj7 | {agreed} | Cmaj7 | Cmaj7 |"
    right, plain, other = (marked(chart, 2, 1, typed, "changes").points for typed in (agreed, triad, elsewhere))
    assert right == 1 > plain > other >= 0.5


BRIDGE = "key: C major\n| Cmaj7 | Dm7 G7 | Cmaj7 | Bbm7 Eb7 |\n| Abmaj7 | Bbm7 Eb7 | Abmaj7 | Fm7 |\n| Bbm7 | Eb7 | Abmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 |"


@pytest.mark.parametrize(
    ("typed", "rule", "says"),
    [
        ("bVImaj7", "home-name", "Right, counted from home. In this passage the ear sits in A♭."),
        ("Ab: I", "exact", ""),
        ("I", "exact", ""),
    ],
)
def test_the_sentence_says_which_key_was_counted_in(typed: str, rule: str, says: str) -> None:
    found = marked(BRIDGE, 7, 1, typed)
    assert (found.points, found.rule) == (1, rule)
    assert says in found.feedback


def test_the_sentence_says_that_a_key_passes() -> None:
    found = marked("key: Eb major\n| Ebmaj7 | Bbm7 Eb7 | Abmaj7 | Fm7 Bb7 | Ebmaj7 |", 2, 1, "Ab: ii")
    assert (found.points, found.rule) == (1, "passing-name")
    assert "The passage as a whole sits in E♭." in found.feedback


def test_a_key_that_must_be_named_is_still_asked_for() -> None:
    """A name from home does not stand for the new key where the assignment asks for that."""
    key = next(key for key in keys_of(BRIDGE) if key["new_area"] and key["key"] == "Ab major")
    asked = Strictness(True, "part", key_prefix=True)
    expected = str(key["expected"]["numeral"])
    assert mark("function", key, f"Ab: {expected}", asked, Context("C major")).points == 1
    home = {"ii7": "bvii7", "V7": "bIII7", "Imaj7": "bVImaj7"}[expected]
    assert mark("function", key, home, asked, Context("C major")).points == 0.75


def test_old_keys_are_marked_without_the_passing_keys() -> None:
    """Keys stored before the passing keys were kept have no such entry."""
    key = dict(keys_of(BRIDGE)[0])
    del key["passing"]
    assert mark("function", key, "Imaj7", STRICT).points == 1
    assert feedback("exact", key, None, None, Context())
