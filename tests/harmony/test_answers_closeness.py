"""How near answers are to functions: tables in C, then the same in twelve keys and other spellings.

Equivalences: bII7 = subV7 and the dominants' goals from Pease, *Jazz Composition* (2003), p. 53; #i°7 = V7b9/ii without
root is logical (a diminished seventh equals the upper notes of the 7b9 chord a semitone below); the rest is common
practice, no source.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tunes.harmony.answers.closeness import RELATIONS, compare, quality_of, role_of
from tunes.harmony.answers.equivalents import equivalent_names
from tunes.harmony.answers.reader import read_answer
from tunes.harmony.pitch.spelling import MAJOR_KEYS, Interval, Key
from tunes.harmony.readings.function import Function

C = Key.parse("C")


def applied(degree: str, target: str, minor: bool = False) -> Function:
    return Function(degree, "7", "dominant", "applied", target, minor, "5")


II = Function("2", "m7", "predominant", "diatonic")
V = Function("5", "7", "dominant", "diatonic", "1", False, "5")
I = Function("1", "maj7", "tonic", "diatonic")  # noqa: E741
IV = Function("4", "maj7", "predominant", "diatonic")
VI = Function("6", "m7", "tonic", "diatonic")
BLUES_I = Function("1", "7", "tonic", "blues")
V_OF_II = applied("6", "2", True)
V_OF_V = applied("2", "5")
V_OF_IV = applied("1", "4")
SUB = Function("b2", "7", "dominant", "tritone-substitute", "1", False, "sub5")
SUB_OF_V = Function("b6", "7", "dominant", "tritone-substitute", "5", False, "sub5")
BACKDOOR = Function("b7", "7", "dominant", "backdoor", "1", False, "b7")
II_OF_IV = Function("5", "m7", "predominant", "related-ii", "4", False, "2")
SHARP_I = Function("#1", "dim7", "passing", "passing-diminished", "2", True)
SHARP_I_LEADING = Function("#1", "dim7", "dominant", "leading-diminished", "2", True, "7")
SHARP_IV = Function("#4", "dim7", "passing", "passing-diminished", "5")
MINOR_IV = Function("4", "m6", "predominant", "interchange")
FLAT_VI = Function("b6", "maj7", "predominant", "interchange")
NONE = Function("1", "", "none", "no-chord")

TABLE = (
    ("2", II, "exact", "right"), ("ii", II, "exact", "right"), ("iim7", II, "exact", "right"), ("II7", II, "exact", "wrong"),
    ("I", BLUES_I, "exact", "open"), ("II", V_OF_V, "root-only", "open"), ("I", I, "exact", "right"),
    ("5", V, "exact", "right"), ("V", V, "exact", "right"), ("v", V, "exact", "case"), ("5 of 1", V, "exact", "right"),
    ("V7/ii", V_OF_II, "exact", "right"), ("5 of 2", V_OF_II, "exact", "right"), ("VI7", V_OF_II, "equivalent", "right"),
    ("6", V_OF_II, "root-only", "open"), ("vim7", V_OF_II, "root-other-chord", "wrong"), ("vi", V_OF_II, "root-other-chord", "case"),
    ("II7", V_OF_V, "equivalent", "right"), ("2", V_OF_V, "root-only", "open"), ("5/5", V_OF_V, "exact", "right"),
    ("I7", V_OF_IV, "equivalent", "right"), ("V/IV", BLUES_I, "same-chord-other-role", "right"), ("I7", BLUES_I, "exact", "right"),
    ("bII7", SUB, "equivalent", "right"), ("sub 5", SUB, "exact", "right"), ("b2", SUB, "equivalent", "open"),
    ("V7", SUB, "dominant-substitute", "right"), ("bVI7", SUB_OF_V, "equivalent", "right"), ("V/V", SUB_OF_V, "dominant-substitute", "right"),
    ("sub 5 of 2", V_OF_II, "dominant-substitute", "right"), ("sub 5", V, "dominant-substitute", "right"),
    ("backdoor", BACKDOOR, "exact", "right"), ("bVII7", BACKDOOR, "exact", "right"), ("b7", BACKDOOR, "exact", "right"),
    ("5 of b3", BACKDOOR, "same-chord-other-role", "right"), ("V7", BACKDOOR, "dominant-substitute", "right"),
    ("ii/IV", II_OF_IV, "exact", "right"), ("vm7", II_OF_IV, "equivalent", "right"), ("v", II_OF_IV, "equivalent", "right"),
    ("5", II_OF_IV, "root-only", "open"), ("V7", II_OF_IV, "root-other-chord", "wrong"), ("5 of 4", II_OF_IV, "chain-position", "wrong"),
    ("2", II_OF_IV, "target-missing", "open"), ("2 of 5", II_OF_IV, "related-ii-other-target", "right"),
    ("5", V_OF_II, "target-missing", "open"), ("V7/iii", V_OF_II, "other-target", "right"), ("2 of 2", V_OF_II, "chain-position", "open"),
    ("#i°7", SHARP_I, "exact", "right"), ("vii°7/ii", SHARP_I, "equivalent", "right"), ("V7b9/ii", SHARP_I, "rootless", "wrong"),
    ("5 of 2", SHARP_I, "rootless", "wrong"), ("#i dim", SHARP_I_LEADING, "equivalent", "right"), ("vii°7/ii", SHARP_I_LEADING, "exact", "right"),
    ("b2 dim", SHARP_I, "enharmonic", "right"), ("b5 dim", SHARP_IV, "enharmonic", "right"), ("vi°7", SHARP_IV, "diminished-other-root", "right"),
    ("5 of 5", SHARP_IV, "rootless", "wrong"), ("vii°7/V", SHARP_IV, "equivalent", "right"),
    ("4 minor", MINOR_IV, "exact", "right"), ("iv", MINOR_IV, "exact", "right"), ("IV", MINOR_IV, "exact", "open"), ("4", MINOR_IV, "exact", "open"), ("1", BLUES_I, "exact", "open"), ("IVmaj7", MINOR_IV, "exact", "wrong"),
    ("ii", IV, "family", "case|right|wrong"), ("vi", I, "family", "right|case"), ("3", VI, "family", "right"), ("V", I, "other", "right|open"),
    ("N.C.", NONE, "exact", "right"), ("1", NONE, "other", "wrong"), ("N.C.", I, "other", "wrong"),
)  # fmt: skip


@pytest.mark.parametrize(
    ("text", "function", "relation", "quality"), TABLE, ids=[f"{row[0]} for {row[1].numeral}" for row in TABLE]
)
@pytest.mark.parametrize("key", MAJOR_KEYS, ids=lambda key: key.short)
def test_relations_in_twelve_keys(key: Key, text: str, function: Function, relation: str, quality: str) -> None:
    answer = read_answer(text).answer
    assert answer is not None
    found = compare(answer, function, key, key)
    assert found.relation == relation
    assert found.quality in quality.split("|")


OTHER_KEYS = (
    ("A minor: iv", II, "relative-key"), ("A minor: i", VI, "relative-key"), ("A minor: bIII", I, "relative-key"),
    ("C minor: V7", V, "parallel-key"), ("F: vi", II, "other-key-area"), ("F: V7", I, "function-other-key|other-key-area|other"),
    ("F: V7", BLUES_I, "other-key-area"), ("A minor: V7", V, "function-relative-key"), ("Eb: 2", II, "function-other-key"),
    ("B#: 2", II, "exact"), ("Bb: iii", II, "other-key-area"), ("A minor: 6", Function("4", "maj7", "predominant", "diatonic"), "relative-key"),
)  # fmt: skip


@pytest.mark.parametrize(("text", "function", "relation"), OTHER_KEYS)
def test_keys_in_front(text: str, function: Function, relation: str) -> None:
    reading = read_answer(text)
    assert reading.answer is not None
    assert reading.key is not None
    assert compare(reading.answer, function, reading.key, C).relation in relation.split("|")


@pytest.mark.parametrize("text", ["6", "b6", "VI", "bVImaj7", "bVI"])
def test_a_minor_key_counts_its_own_degrees(text: str) -> None:
    key = Key.parse("C minor")
    answer = read_answer(text).answer
    assert answer is not None
    assert compare(answer, Function("b6", "maj7", "predominant", "diatonic"), key, key).relation == "exact"


def test_the_seventh_of_a_minor_key_may_be_raised_or_not() -> None:
    key = Key.parse("A minor")
    for text, function in (
        ("vii°7", Function("7", "dim7", "dominant", "diatonic")),
        ("VII7", Function("b7", "7", "dominant", "diatonic")),
    ):
        answer = read_answer(text).answer
        assert answer is not None
        found = compare(answer, function, key, key)
        assert (found.relation, found.quality) == ("exact", "right")


ALL = (
    II,
    V,
    I,
    IV,
    VI,
    BLUES_I,
    V_OF_II,
    V_OF_V,
    V_OF_IV,
    SUB,
    SUB_OF_V,
    BACKDOOR,
    II_OF_IV,
    SHARP_I,
    SHARP_I_LEADING,
    SHARP_IV,
    MINOR_IV,
    FLAT_VI,
    NONE,
)


@pytest.mark.parametrize("function", ALL, ids=lambda function: function.numeral)
def test_a_function_is_exactly_itself_in_both_forms(function: Function) -> None:
    for text in (function.numeral, function.spoken):
        answer = read_answer(text).answer
        assert answer is not None, text
        found = compare(answer, function, C, C)
        assert found.relation == "exact", text
        assert found.quality != "wrong"
    written = read_answer(function.numeral).answer
    assert written is not None
    assert written.no_chord or quality_of(written, function) == "right"


@pytest.mark.parametrize("function", ALL, ids=lambda function: function.numeral)
def test_every_equivalent_name_shown_beside_a_key_earns_the_key(function: Function) -> None:
    for name in equivalent_names(function):
        answer = read_answer(name).answer
        assert answer is not None, name
        assert compare(answer, function, C, C).relation in ("exact", "equivalent"), name


texts = st.sampled_from([row[0] for row in TABLE])
functions = st.sampled_from(ALL)
intervals = st.sampled_from(
    [Interval.parse(name) for name in ("m2", "M2", "m3", "M3", "P4", "A4", "d5", "P5", "m6", "M6", "m7", "M7")]
)


@given(texts, functions, st.sampled_from([C, Key.parse("A minor"), Key.parse("F"), Key.parse("C minor")]), intervals)
def test_relations_do_not_change_under_transposition(
    text: str, function: Function, given_key: Key, move: Interval
) -> None:
    answer = read_answer(text).answer
    assert answer is not None
    here = compare(answer, function, given_key, C)
    assert here == compare(answer, function, given_key.transposed(move), C.transposed(move))
    assert here.relation in RELATIONS


def test_roles() -> None:
    rows = (
        ("2", "predominant"),
        ("5", "dominant"),
        ("V7/ii", "dominant"),
        ("1", "tonic"),
        ("sub 5", "dominant"),
        ("2 of 4", "predominant"),
        ("#4", "none"),
    )
    for text, role in rows:
        answer = read_answer(text).answer
        assert answer is not None
        assert role_of(answer) == role
