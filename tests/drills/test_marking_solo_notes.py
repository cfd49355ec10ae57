"""What a note of a solo is over its chord, and what it does: read from what players type, marked by name.

Degrees are logical; the names of what notes do are those of Coker, *Elements of the Jazz Language* (1991), and of Kostka and Payne,
*Tonal Harmony* (from memory).
"""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drills.comparers.solo_note import read_said
from drills.marking import Context, Strictness, echo, mark
from drills.marking_rules import marking_rules
from drills.questions import Question, build, prompt_for
from drills.questions.solo_notes import NoteFacts
from tests.drills.quiz_cases import study

EASY = Strictness()
FACTS = (
    NoteFacts("bar 3, beat 4", 3, "Bb", "A7", "b9", 1, "approach", ("enclosure",), (-1, "A", "5", "Dm7")),
    NoteFacts("bar 3, beat 1", 3, "C#", "A7", "3", 4, "chord tone"),
    NoteFacts("bar 4, beat 2", 4, "G#", "Dm7", "#11", 6, "other"),
)


def question(number: int, part: str = "") -> Question:
    return build("solo-notes", study(), {"notes": [facts.to_json() for facts in FACTS], "part": part})[number]


READ = (
    ("b9, approach", "b9", "approach"), ("flat nine approach", "b9", "approach"), ("3", "3", ""), ("the third, chord tone", "3", "chord tone"),
    ("#11 tension", "#11", "tension"), ("sharp eleven", "#11", ""), ("root", "1", ""), ("b7: passing tone", "b7", "passing"),
    ("13 colour", "13", "tension"), ("neighbor", "", "neighbour"), ("5th, suspension", "5", "delay"), ("double approach b9", "b9", "double approach"),
    ("minor third, inside", "b3", "chord tone"), ("leading into the 3", "3", "approach"), ("11, held over", "11", "delay"),
)  # fmt: skip


@pytest.mark.parametrize(("text", "degree", "role"), READ)
def test_what_players_type_is_read(text: str, degree: str, role: str) -> None:
    said = read_said(text)
    assert (said.degree, said.role, said.problem) == (degree, role, "")


# note, answer, rule
TABLE = (
    (0, "b9, approach", "solo-exact"), (0, "b2 approach", "solo-exact"), (0, "b9 enclosure", "solo-also"), (0, "b9", "solo-degree"),
    (0, "b9 double approach", "solo-near"), (0, "b9, chord tone", "solo-degree"), (0, "approach", "solo-role"), (0, "9, approach", "solo-role"),
    (0, "9", "other"), (0, "", "blank"), (0, "qwxyz", "unreadable"), (1, "3 chord tone", "solo-exact"), (1, "3rd", "solo-degree"),
    (2, "#11 tension", "solo-exact"), (2, "b5", "solo-exact"), (2, "4", "other"),
)  # fmt: skip


@pytest.mark.parametrize(("note", "text", "rule"), TABLE)
def test_marks_have_a_name(note: int, text: str, rule: str) -> None:
    found = mark("solo-notes", question(note).key, text, EASY)
    assert found.rule == rule
    assert found.points == marking_rules()[rule].points


def test_the_degree_alone_may_be_asked() -> None:
    asked = question(0, "degree")
    assert mark("solo-notes", asked.key, "b9", EASY).points == 1
    assert "does" not in asked.prompt


def test_question_and_reason_are_in_the_players_pitch() -> None:
    stored: dict[str, Any] = json.loads(json.dumps(question(0).to_json()))
    assert "B♭ over A7" in prompt_for(stored)
    assert "G over F♯7" in prompt_for(stored, "M6")
    said = mark("solo-notes", stored["key"], "", EASY, Context("", "M6")).feedback
    assert "G is the ♭9 of F♯7, an approach" in said
    assert "half a step above F♯, the 5 of Bm7" in said


def test_no_question_tells_its_answer() -> None:
    shown = {name: value for name, value in question(0).to_json().items() if name != "key"}
    assert "b9" not in json.dumps(shown)
    assert "approach" not in json.dumps(shown)


@given(st.text(max_size=60))
def test_nothing_typed_breaks_it(text: str) -> None:
    found = mark("solo-notes", question(0).key, text, EASY)
    assert 0 <= found.points <= 1
    assert found.rule in marking_rules()
    echo("solo-notes", text)


def test_a_role_stands_in_a_sentence() -> None:
    stored: dict[str, Any] = json.loads(json.dumps(question(0).to_json()))
    for role, said in (("passing", "a passing note"), ("approach", "an approach"), ("tension", "a tension")):
        assert f", {said}" in mark("solo-notes", stored["key"] | {"role": role}, "", EASY).feedback
