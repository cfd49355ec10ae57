"""Changes from memory: what is asked, and how a bar is marked, against readings taken from published tables.

Sources: the fourths and fifths of the twelve keys are those of the circle of fifths (any primer); that D flat 7 may stand
for G7 is the tritone substitution of Levine, *The Jazz Theory Book* (1995), ch. 12; that vii half-diminished of vi is the
related ii of its dominant is common practice, no source.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.called import called_in, interval_to, next_key, twelve
from drills.comparers.by_heart import numbers_of
from drills.comparers.heard_bar import metre_of
from drills.marking import Context, Strictness, echo, mark
from drills.questions import build
from tunes.harmony.pitch.spelling import Interval, Key
from tunes.study import study_of_text

CHART = """key: F major
[A]
| Fmaj7 | Em7b5 A7 | Dm7 G7 | Cm7 F7 |
[B]
| Bbmaj7 | Bbm7 Eb7 | N.C. | C7 |
[A]
| Fmaj7 | Em7b5 A7 | Dm7 G7 | Cm7 F7 |
"""
STUDY = study_of_text(CHART)
HARD = Strictness(quality=True, alternatives="none")


def asked(**options: object):
    return build("by-heart", STUDY, options)


def test_a_section_that_comes_again_is_written_once() -> None:
    rows = [(q.bar, q.context["section"], q.context["times"]) for q in asked()]
    assert rows == [
        (1, "A", 2),
        (2, "A", 2),
        (3, "A", 2),
        (4, "A", 2),
        (5, "B", 1),
        (6, "B", 1),
        (7, "B", 1),
        (8, "B", 1),
    ]
    assert [q.bar for q in asked(section="B")] == [5, 6, 7, 8]
    assert [q.bar for q in asked(every_section=True)] == list(range(1, 13))
    assert asked(section="Z") == ()


def test_nothing_but_the_key_tells_a_chord() -> None:
    for question in (*asked(), *asked(part="numbers")):
        shown = {name: value for name, value in question.to_json().items() if name not in ("key", "id")}
        assert not any(chord["chord"] in str(shown) for chord in question.key["chords"])


# bar, part, what was typed, the key called as an interval, points
TABLE = [
    (2, "", "Em7b5 A7", "P1", 1.0),
    (2, "", "Gm7b5 C7", "m3", 1.0),  # called in A flat
    (2, "", "F#m7b5 B7", "M2", 1.0),  # called in G
    (2, "", "Em7b5 A7", "M2", 0.0),  # right a tone away: another key was called
    (3, "", "Dm7 Db7", "P1", 0.875),  # the tritone substitute earns its share
    (2, "", "Em7b5 A7 / Dm7", "P1", 0.75),  # a chord too many that has nothing of the one that goes on
    (7, "", "N.C.", "P1", 1.0),
    (2, "numbers", "2 of 6 5 of 6", "P1", 1.0),
    (2, "numbers", "2 of 6, 5 of 6", "m3", 1.0),  # numbers are the same in every key
    (3, "numbers", "6 5 of 5", "P1", 1.0),
    (5, "numbers", "4", "P1", 1.0),
    (5, "numbers", "4 / / /", "P1", 1.0),
    (5, "numbers", "4 4", "P1", 1.0),
    (5, "numbers", "4 1", "P1", 0.5),  # a number too many is not free
    (3, "numbers", "6 / 5 of 5 1", "P1", 0.75),
    (3, "numbers", "6 b3", "M2", 0.5),  # half of the bar
    (1, "numbers", "2", "P1", 0.0),
    (5, "numbers", "", "P1", 0.0),
    (7, "numbers", "N.C.", "P1", 1.0),
]


@pytest.mark.parametrize(("bar", "part", "text", "written", "points"), TABLE)
def test_a_bar_earns_what_its_chords_earn(bar: int, part: str, text: str, written: str, points: float) -> None:
    question = next(q for q in asked(part=part) if q.bar == bar)
    found = mark("by-heart", question.key, text, HARD, Context(key="F major", written=written))
    assert found.points == pytest.approx(points), found


def test_the_feedback_names_the_bar_in_the_key_that_was_called() -> None:
    found = mark("by-heart", asked()[1].key, "C", HARD, Context(written="m3"))
    assert "Bar 2 has Gø7 C7." in found.feedback
    assert "iiø7" in mark("by-heart", asked(part="numbers")[1].key, "1", HARD, Context(written="m3")).feedback


@pytest.mark.parametrize(
    ("text", "metre", "found"),
    [
        ("2 5", "4/4", [("2", "0", "2"), ("5", "2", "2")]),
        ("2 5 of 2 1", "3/4", [("2", "0", "1"), ("5 of 2", "1", "1"), ("1", "2", "1")]),
        ("1 / / 4", "4/4", [("1", "0", "3"), ("4", "3", "1")]),
        ("Ab: 2 5", "4/4", [("Ab: 2", "0", "2"), ("5", "2", "2")]),
        ("sub 5 1", "4/4", [("sub 5", "0", "2"), ("1", "2", "2")]),
        ("V7/ii ii7", "4/4", [("V7/ii", "0", "2"), ("ii7", "2", "2")]),
    ],
)
def test_numbers_of_a_bar(text: str, metre: str, found: list[tuple[str, str, str]]) -> None:
    assert [(s.text, str(s.start), str(s.duration)) for s in numbers_of(text, metre_of(metre))] == found


@given(st.text(max_size=140), st.sampled_from(["", "numbers"]))
def test_nothing_typed_breaks_it(text: str, part: str) -> None:
    question = asked(part=part)[1]
    assert 0 <= mark("by-heart", question.key, text, HARD).points <= 1
    echo("by-heart", text, Context(key="F major", part=part, metre="4/4"))


def test_every_key_is_called_before_one_comes_again() -> None:
    home, done = Key.parse("D minor"), []
    for call in range(12):
        key = next_key(home, done, call)
        assert key.mode == "minor"
        done.append(key.text)
    assert {Key.parse(text).tonic.pc for text in done} == set(range(12))
    assert next_key(home, done, 99) in twelve(home)


@pytest.mark.parametrize("instrument", ["P1", "M2", "M6", "m3"])
def test_what_was_called_is_read_back_from_the_interval(instrument: str) -> None:
    move = Interval.parse(instrument)
    for home in (Key.parse("F"), Key.parse("Gb"), Key.parse("C# minor")):
        for key in twelve(home):
            written = interval_to(home, key, move).name
            back = called_in(home.text, written, move)
            assert back is not None
            assert back.tonic.pc == key.tonic.pc
