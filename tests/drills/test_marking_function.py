"""Marks for the function of a chord.  The shares are the marking table's own (common practice, no source)."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drills.marking import Context, Strictness, echo, key_after, mark
from drills.marking_rules import marking_rules
from drills.questions import KeyJson
from drills.questions.function import function_key
from drills.questions.places import places
from tests.drills.quiz_cases import NAMES, SAID, study
from tunes.harmony.answers.reader import read_answer
from tunes.harmony.pitch.spelling import MAJOR_KEYS, Interval, Key

EASY = Strictness()
STRICT = Strictness(quality=True)


def keys_in(key: Key) -> list[KeyJson]:
    """The stored key of every event, the bar without a chord included."""
    made = study(key)
    where = places(made.chart)
    return [function_key(made.chart, made.analysis, index, where) for index in range(len(NAMES))]


KEYS = keys_in(Key.parse("C"))
EVENT = {name: index for index, name in reversed(list(enumerate(NAMES)))}

# chord, answer, rule, points with numerals only, points with quality asked
TABLE = (
    ("V/ii", "V7/ii", "exact", 1.0, 1.0), ("V/ii", "5 of 2", "exact", 1.0, 1.0), ("V/ii", "VI7", "equivalent", 1.0, 1.0),
    ("V/ii", "6", "root-only", 0.5, 0.4), ("V/ii", "vim7", "root-other-chord", 0.4, 0.3), ("V/ii", "sub 5 of 2", "dominant-substitute", 0.6, 0.6),
    ("V/ii", "V7/iii", "other-target", 0.25, 0.25), ("V/ii", "5", "target-missing", 0.4, 0.4), ("V/ii", "2 of 2", "chain-position", 0.4, 0.4),
    ("V/ii", "I", "adjacent", 0.1, 0.1), ("V/ii", "bVImaj7", "other", 0.0, 0.0), ("V/ii", "", "blank", 0.0, 0.0), ("V/ii", "Dm7", "unreadable", 0.0, 0.0),
    ("ii", "2", "exact", 1.0, 1.0), ("V", "5", "exact", 1.0, 1.0), ("I", "home", "exact", 1.0, 1.0), ("bVII7", "flat 7", "exact", 1.0, 1.0), ("ii", "ii", "exact", 1.0, 1.0), ("ii", "IIm7", "exact", 1.0, 1.0),
    ("ii", "II7", "degree-wrong-quality", 0.75, 0.5), ("ii", "F: vi", "other-key-area", 0.5, 0.5), ("ii", "A minor: iv", "relative-key", 0.75, 0.75),
    ("ii", "Eb: 2", "function-other-key", 0.4, 0.4), ("ii", "IV", "family", 0.25, 0.25),
    ("iii", "2 of 2", "alternative", 0.75, 0.75), ("iii", "iii7", "exact", 1.0, 1.0), ("iii", "ii7/ii", "alternative", 0.75, 0.75),
    ("subV", "bII7", "equivalent", 1.0, 1.0), ("subV", "sub 5", "exact", 1.0, 1.0), ("subV", "V7", "dominant-substitute", 0.6, 0.6),
    ("ii/IV", "vm7", "equivalent", 1.0, 1.0), ("ii/IV", "2 of 5", "related-ii-other-target", 0.3, 0.3), ("bVII7", "backdoor", "exact", 1.0, 1.0),
    ("#i°", "5 of 2", "rootless", 1.0, 0.75), ("#i°", "vii°7/ii", "equivalent", 1.0, 1.0), ("#i°", "b2 dim", "enharmonic", 0.9, 0.75),
    ("V", "C minor: V7", "parallel-key", 0.75, 0.75), ("N.C.", "NC", "exact", 1.0, 1.0), ("N.C.", "1", "other", 0.0, 0.0),
)  # fmt: skip


@pytest.mark.parametrize(
    ("name", "answer", "rule", "points", "strict"), TABLE, ids=[f"{row[1]} for {row[0]}" for row in TABLE]
)
def test_the_marking_table(name: str, answer: str, rule: str, points: float, strict: float) -> None:
    key = KEYS[EVENT[name]]
    easy, hard = mark("function", key, answer, EASY), mark("function", key, answer, STRICT)
    assert easy.rule in rule.split("|")
    assert hard.rule in rule.split("|")
    assert (easy.points, hard.points) == (points, strict)


@pytest.mark.parametrize(("alternatives", "points"), [("full", 1.0), ("part", 0.75), ("none", 0.5)])
def test_other_readings_as_the_instructor_allows(alternatives: str, points: float) -> None:
    assert mark("function", KEYS[EVENT["iii"]], "2 of 2", Strictness(alternatives=alternatives)).points == points


def test_a_new_key_area_must_be_named_when_asked() -> None:
    key, asked, in_c = KEYS[29], Strictness(key_prefix=True), Context("C major")
    assert mark("function", key, "Ab: 2", asked, in_c).points == 1
    assert mark("function", key, "2", asked, in_c).rule == "key-not-named"
    assert mark("function", key, "2", Strictness(), in_c).points == 1
    assert mark("function", key, "2", asked, Context("Ab major")).points == 1, "named one chord earlier"
    assert mark("function", KEYS[30], "5", asked, Context("Ab major")).points == 1


def test_a_key_stays_in_force_until_the_next() -> None:
    assert key_after("Ab: 2", "C major") == "Ab major"
    assert key_after("2 in Ab minor", "C major") == "Ab minor"
    assert key_after("5 of 2", "Ab major") == "Ab major"
    assert key_after("!!", "Ab major") == "Ab major"
    assert key_after("F: 2", "C major", "M6") == "Ab major"


def test_keys_are_typed_in_the_pitch_the_player_reads() -> None:
    context = Context("C major", "M6")
    found = mark("function", KEYS[29], "F: 2", Strictness(key_prefix=True), context)
    assert found.points == 1
    other = mark("function", KEYS[29], "F: 4", Strictness(key_prefix=True), context).feedback
    assert "It is ii7 in F" in other, "a chord of concert A flat on an alto part"
    assert echo("function", "5 of 2", context).text == "V7 of ii in A: F♯7 → Bm7"


@pytest.mark.parametrize("event", range(len(NAMES)))
@pytest.mark.parametrize("strictness", [EASY, STRICT, Strictness(True, "none", False)])
def test_the_keys_own_answer_and_its_equivalents_always_mark_full(event: int, strictness: Strictness) -> None:
    key = KEYS[event]
    assert mark("function", key, key["expected"]["numeral"], strictness).points == 1
    assert mark("function", key, key["expected"]["spoken"], Strictness()).points == 1
    for name in key["equivalents"]:
        assert mark("function", key, name, Strictness()).points == 1, name


def test_feedback_says_what_why_where_and_how_it_sounds() -> None:
    words = mark("function", KEYS[EVENT["V/ii"]], "V7/iii", EASY).feedback
    assert "It is V7/ii in C, in numbers “5 of 2”." in words
    assert "hears it so: the chord after it is where it leads." in words
    assert "It goes straight to Dm7 in bar 2." in words
    assert "C♯" in words
    assert "V7 of iii in C: B7 → Em7" in words
    assert "wrong" not in words.lower()
    assert "!" not in words


def test_a_right_answer_is_told_why_and_not_its_name_again() -> None:
    key = KEYS[EVENT["V/ii"]]
    words = mark("function", key, "V7/ii", EASY).feedback
    assert words.startswith("A teacher hears it so: the chord after it is where it leads.")
    for said in ("That is it", "Exactly", "It is V7/ii", "Bar 1"):
        assert said not in words
    assert "left" not in mark("function", key, "", EASY).feedback


def test_no_sentence_stands_twice() -> None:
    for key in KEYS:
        for answer in (key["expected"]["numeral"], "1", "5 of 5", ""):
            words = [part for part in mark("function", key, answer, STRICT).feedback.split(". ") if part]
            assert len(words) == len(set(words)), words


def test_feedback_never_scolds() -> None:
    for key in KEYS:
        for answer in ("1", "V/V", "", "rubbish", "Ab: 2"):
            words = mark("function", key, answer, STRICT).feedback
            assert "wrong" not in words.lower()
            assert "!" not in words
            assert "  " not in words


ANSWERS = sorted(
    {row[1] for row in TABLE} | {"3", "V7/V", "7", "b6", "4 minor", "sub 5 of 5", "C: 5", "in Ab: 4", "what"}
)
strictnesses = st.builds(Strictness, st.booleans(), st.sampled_from(["none", "part", "full"]), st.booleans())
MOVED = {key: keys_in(key) for key in MAJOR_KEYS}


@given(st.sampled_from(MAJOR_KEYS), st.integers(0, len(NAMES) - 1), st.sampled_from(ANSWERS), strictnesses)
def test_marks_do_not_change_under_transposition(key: Key, event: int, answer: str, strictness: Strictness) -> None:
    move = Key.parse("C").tonic.interval_to(key.tonic)
    typed = read_answer(answer).key
    there = answer if typed is None else f"{typed.transposed(move).text}: {answer.split(':')[1]}"
    here = mark("function", KEYS[event], answer, strictness, Context("C major"))
    away = mark("function", MOVED[key][event], there, strictness, Context(key.text))
    assert (here.points, here.rule) == (away.points, away.rule)


@given(st.integers(0, len(NAMES) - 1), st.sampled_from(ANSWERS), strictnesses)
def test_being_more_lenient_never_costs_a_point(event: int, answer: str, strictness: Strictness) -> None:
    base = mark("function", KEYS[event], answer, strictness, Context("C major")).points
    softer = [
        Strictness(False, strictness.alternatives, strictness.key_prefix),
        Strictness(strictness.quality, "full", strictness.key_prefix),
        Strictness(strictness.quality, strictness.alternatives, False),
    ]
    assert all(mark("function", KEYS[event], answer, one, Context("C major")).points >= base for one in softer)


@given(st.integers(0, len(NAMES) - 1), st.sampled_from(ANSWERS), strictnesses)
def test_one_more_accepted_reading_never_costs_a_point(event: int, answer: str, strictness: Strictness) -> None:
    key = json.loads(json.dumps(KEYS[event]))
    base = mark("function", key, answer, strictness).points
    key["alternatives"].append(
        {"key": "C major", "function": KEYS[EVENT["V/V"]]["expected"], "margin": 3.0, "reason": SAID.to_json()}
    )
    assert mark("function", key, answer, strictness).points >= base


@given(
    st.text(max_size=160),
    st.integers(0, len(NAMES) - 1),
    strictnesses,
    st.sampled_from(["P1", "M2", "M6", "M9", "nonsense"]),
)
def test_no_text_breaks_marking(text: str, event: int, strictness: Strictness, written: str) -> None:
    found = mark("function", KEYS[event], text, strictness, Context("C major", written))
    assert 0 <= found.points <= 1
    assert found.rule in marking_rules()
    assert found.feedback
    shown = echo("function", text, {"key": "C major", "written": written})
    assert shown.ok or 0 <= shown.start <= shown.end <= len(text)


def test_every_rule_can_be_read() -> None:
    for identifier, rule in marking_rules().items():
        assert rule.id == identifier
        assert rule.name
        assert rule.sentence.endswith(".")
        assert rule.example
        assert 0 <= rule.strict_points <= rule.points <= 1
    met = {rule.id for rule in marking_rules().values() if {"function", "all"} & set(rule.kinds)}
    assert met >= {row[2].split("|")[0] for row in TABLE}


def test_strictness_survives_json() -> None:
    for one in (EASY, STRICT, Strictness(True, "full", True)):
        assert Strictness.from_json(one.to_json()) == one
    assert Strictness.from_json({"alternatives": "perhaps"}) == Strictness()


def test_intervals_of_the_context() -> None:
    assert Context(written="M9").interval == Interval.parse("M9")
    assert Context(written="?").interval == Interval(0, 0)
    assert Context(key="?").concert_key is None
