"""What musicians write for a function, read, echoed and refused with advice.

Chords of each function: Nettles & Graf 1997 and Pease, *Jazz Composition* (2003), p. 53, as listed in the table below;
the spellings accepted are common practice, no source.
"""

from __future__ import annotations

import time

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tunes.harmony.analysis.pipeline import analyse
from tunes.harmony.answers.closeness import compare
from tunes.harmony.answers.reader import Answer, degree_at, degree_fifths, read_answer
from tunes.harmony.charts import parse_chart
from tunes.harmony.chords import parse_symbol
from tunes.harmony.pitch.spelling import MAJOR_KEYS, MINOR_KEYS, Key, NoteName

F = Key.parse("F")

# text, written form, degree of the root, goal, quality stated
FORMS: tuple[tuple[str, str, str, str | None, str | None], ...] = (
    ("2", "2", "2", None, None), ("ii", "ii", "2", None, None), ("II", "II", "2", None, None),
    ("IIm7", "ii7", "2", None, "m7"), ("ii-7", "ii7", "2", None, "m7"), ("2m7", "ii7", "2", None, "m7"),
    ("2-7", "ii7", "2", None, "m7"), ("ii min 7", "ii7", "2", None, "m7"), ("two minor seven", "ii7", "2", None, "m7"),
    ("5 of 2", "V7/ii", "6", "2", None), ("V/ii", "V7/ii", "6", "2", None), ("V7/ii", "V7/ii", "6", "2", "7"),
    ("v7 / II", "v7/ii", "6", "2", "m7"), ("five of two", "V7/ii", "6", "2", None), ("the 5 of the 2", "V7/ii", "6", "2", None),
    ("5th of 2nd", "V7/ii", "6", "2", None), ("dominant of 2", "V7/ii", "6", "2", "7"), ("V7b9/ii", "V7/ii", "6", "2", "7"),
    ("5/5", "V7/V", "2", "5", None), ("V of V of ii", "V7/V/ii", "3", "6", None), ("5/5/2", "V7/V/ii", "3", "6", None),
    ("b7", "b7", "b7", None, None), ("♭7", "b7", "b7", None, None), ("flat seven", "b7", "b7", None, None),
    ("bVII7", "bVII7", "b7", None, "7"), ("♭Ⅶ7", "bVII7", "b7", None, "7"), ("b7 7", "bVII7", "b7", None, "7"),
    ("bVII", "bVII", "b7", None, None), ("B7", "b7", "b7", None, None),
    ("sub 5", "subV7", "b2", "1", None), ("subV7", "subV7", "b2", "1", "7"), ("subV", "subV7", "b2", "1", None),
    ("sub of 5", "subV7", "b2", "1", None), ("tritone sub", "subV7", "b2", "1", None),
    ("sub 5 of 2", "subV7/ii", "b3", "2", None), ("subV7/ii", "subV7/ii", "b3", "2", "7"), ("sub V of V", "subV7/V", "b6", "5", None),
    ("tritone sub for 5 of 2", "subV7/ii", "b3", "2", None), ("bII7", "bII7", "b2", None, "7"),
    ("#4 dim", "#iv°", "#4", None, "dim"), ("#iv°7", "#iv°7", "#4", None, "dim7"), ("#4o7", "#iv°7", "#4", None, "dim7"),
    ("♯4º7", "#iv°7", "#4", None, "dim7"), ("sharp four diminished", "#iv°", "#4", None, "dim"), ("#4ø", "#ivø7", "#4", None, "m7b5"),
    ("#iv half dim", "#ivø7", "#4", None, "m7b5"), ("vi-7(b5)", "viø7", "6", None, "m7b5"), ("iim7b5", "iiø7", "2", None, "m7b5"),
    ("2 of 4", "ii7/IV", "5", "4", None), ("ii/IV", "ii7/IV", "5", "4", None), ("related 2 of 4", "ii7/IV", "5", "4", None),
    ("rel ii/IV", "ii7/IV", "5", "4", None), ("second of fourth", "ii7/IV", "5", "4", None),
    ("1", "1", "1", None, None), ("I", "I", "1", None, None), ("i", "i", "1", None, None), ("Imaj7", "Imaj7", "1", None, "maj7"),
    ("IΔ", "Imaj7", "1", None, "maj7"), ("1M7", "Imaj7", "1", None, "maj7"), ("I6", "I6", "1", None, "6"), ("I6/9", "I6", "1", None, "6"),
    ("i(maj7)", "i(maj7)", "1", None, "mmaj7"), ("im(maj7)", "i(maj7)", "1", None, "mmaj7"), ("i-Δ7", "i(maj7)", "1", None, "mmaj7"),
    ("4 minor", "iv", "4", None, "m"), ("minor 4", "iv", "4", None, "m"), ("iv6", "iv6", "4", None, "m6"), ("four minor six", "iv6", "4", None, "m6"),
    ("backdoor", "bVII7", "b7", "1", None), ("back door", "bVII7", "b7", "1", None), ("backdoor of 4", "bVII7/IV", "b3", "4", None),
    ("vii°7/ii", "vii°7/ii", "#1", "2", "dim7"), ("dim 7 of 2", "vii°/ii", "#1", "2", "dim"), ("7 of 5", "vii°7/V", "#4", "5", None),
    ("V7sus4", "V7sus", "5", None, "7sus"), ("57", "V7", "5", None, "7"), ("V7alt", "V7", "5", None, "7"), ("V+7", "V7", "5", None, "7"),
    ("bVImaj7", "bVImaj7", "b6", None, "maj7"), ("bII maj7", "bIImaj7", "b2", None, "maj7"), ("III7", "III7", "3", None, "7"),
    ("5 of b3", "V7/bIII", "b7", "b3", None), ("2 of sub 5 of 2", "ii7/subV/ii", "b7", "b3", None),
)  # fmt: skip


@pytest.mark.parametrize(("text", "numeral", "degree", "target", "quality"), FORMS, ids=[row[0] for row in FORMS])
def test_every_form_is_read(text: str, numeral: str, degree: str, target: str | None, quality: str | None) -> None:
    answer = read_answer(text, F).answer
    assert answer is not None
    assert (answer.numeral, answer.degree, answer.target, answer.quality) == (numeral, degree, target, quality)


@pytest.mark.parametrize("text", ["N.C.", "NC", "n.c.", "no chord", "N C", "tacet"])
def test_no_chord(text: str) -> None:
    answer = read_answer(text, F).answer
    assert answer is not None
    assert answer.no_chord


KEYS = (
    ("Ab: 2", "Ab major", "2"), ("Ab minor: iiø", "Ab minor", "iiø7"), ("in Ab: 5", "Ab major", "5"), ("in Ab 5", "Ab major", "5"),
    ("A♭: 5 of 2", "Ab major", "V7/ii"), ("ab: 2", "Ab major", "2"), ("Abm: 2", "Ab minor", "2"), ("F# minor: 5", "F# minor", "5"),
    ("A flat major: 2", "Ab major", "2"), ("(Eb) ii", "Eb major", "ii"), ("2 in Ab", "Ab major", "2"), ("2 of Ab major", "Ab major", "2"),
    ("key of C minor: i", "C minor", "i"), ("now in D: 1", "D major", "1"), ("B: 2", "B major", "2"), ("b: 2", "B major", "2"),
)  # fmt: skip


@pytest.mark.parametrize(("text", "key", "numeral"), KEYS, ids=[row[0] for row in KEYS])
def test_a_key_may_stand_with_the_number(text: str, key: str, numeral: str) -> None:
    reading = read_answer(text, F)
    assert reading.answer is not None
    assert reading.key is not None
    assert (reading.key.text, reading.answer.numeral) == (key, numeral)


OPEN = "as the number alone says; any other kind of chord is still open"
ECHOES = (
    ("5 of 2", "V7 of ii in F: D7 → Gm7"), ("2", f"2 in F: Gm, {OPEN}"), ("ii", "ii in F: Gm, a minor chord"),
    ("IIm7", "ii7 in F: Gm7"), ("sub 5 of 5", "subV7 of V in F: D♭7 → C7"), ("2 of 4", "related ii7 of IV in F: Cm7 → F7 → B♭maj7"),
    ("bVII7", "♭VII7 in F: E♭7"), ("backdoor", "backdoor ♭VII7 in F: E♭7 → F"), ("#iv°7", "♯iv°7 in F: B°7"), ("N.C.", "N.C.: no chord"),
    ("5 of 5 minor", "V7 of v in F: G7 → Cm"), ("V/v", "V7 of v in F: G7 → Cm"), ("V7/V", "V7 of V in F: G7 → C7"),
    ("2 of minor 4", "related ii7 of iv in F: Cm7 → F7 → B♭m"), ("sub 5 of 4 minor", "subV7 of iv in F: C♭7 → B♭m"),
    ("5 of 6 major", "V7 of VI in F: A7 → D"), ("V7/VI", "V7 of vi in F: A7 → Dm7"), ("5 of 2 minor", "V7 of ii in F: D7 → Gm7"),
    ("5 of 5 minor of 2", "V7 of v of ii in F: A7 → Dm"), ("C minor: 5 of 4 minor", "V7 of iv in C minor: C7 → Fm7"),
    ("Ab: 5", f"5 in A♭: E♭7, {OPEN}"), ("C minor: iiø", "iiø7 in C minor: Dm7♭5"), ("vii°7/ii", "vii°7 of ii in F: F♯°7 → Gm7"),
)  # fmt: skip


@pytest.mark.parametrize(("text", "echo"), ECHOES)
def test_the_field_says_how_it_was_understood(text: str, echo: str) -> None:
    assert read_answer(text, F).echo == echo


def test_what_a_goal_was_said_to_be_is_told_back_and_never_compared() -> None:
    said, usual = read_answer("5 of 5 minor", F).answer, read_answer("5 of 5", F).answer
    assert said is not None
    assert (said, said.goal) == (usual, "m")


# Pease 2003, p. 53: dominants of C major, their related ii and their substitute.
DOMINANTS = (
    ("ii", "A7", "Em7", "Eb7"), ("iii", "B7", "F#m7", "F7"), ("IV", "C7", "Gm7", "Gb7"), ("V", "D7", "Am7", "Ab7"), ("vi", "E7", "Bm7", "Bb7"),
)  # fmt: skip


@pytest.mark.parametrize("key", MAJOR_KEYS, ids=lambda key: key.short)
@pytest.mark.parametrize(("target", "dominant", "related", "substitute"), DOMINANTS)
def test_secondary_dominants_in_twelve_keys(
    key: Key, target: str, dominant: str, related: str, substitute: str
) -> None:
    move = NoteName("C").interval_to(key.tonic)
    for text, chord in ((f"V7/{target}", dominant), (f"ii/{target}", related), (f"subV7/{target}", substitute)):
        answer = read_answer(text, key).answer
        symbol = parse_symbol(chord).symbol
        assert answer is not None
        assert symbol is not None
        assert key.note_at(answer.degree) == symbol.transposed(move).root


# The diatonic sevenths (logical), major and harmonic minor, as players write them.
DIATONIC = {
    "major": ("Imaj7", "iim7", "iiim7", "IVmaj7", "V7", "vim7", "viiø7"),
    "minor": ("im7", "iiø7", "bIIImaj7", "ivm7", "V7", "bVImaj7", "vii°7"),
}
SEMITONES = {"major": (0, 2, 4, 5, 7, 9, 11), "minor": (0, 2, 3, 5, 7, 8, 11)}


@pytest.mark.parametrize("key", [*MAJOR_KEYS, *MINOR_KEYS], ids=lambda key: key.short)
def test_diatonic_sevenths_in_all_keys(key: Key) -> None:
    for text, step in zip(DIATONIC[key.mode], SEMITONES[key.mode], strict=True):
        answer = read_answer(text, key).answer
        assert answer is not None
        assert answer.quality is not None
        assert (key.note_at(answer.degree).pc - key.tonic.pc) % 12 == step


PROBLEMS = (
    ("2 5 of 4", "One chord in each field", "5"), ("ii V", "One chord in each field", "V"), ("2-5", "One chord in each field", "5"),
    ("25", "One chord in each field", "25"), ("Dm7", "name of a chord", "Dm7"), ("G7", "name of a chord", "G7"), ("9", "from 1 to 7", "9"),
    ("5 of", "Of what?", "of"), ("V/", "Of what?", "/"), ("Ab:", "number is missing", ""), ("hello", "not part of a chord's number", "hello"),
    ("5 of banana", "not part of a chord's number", "banana"), ("b", "name of a chord|flat or sharp|not part", "b"), ("-", "number is missing", "-"),
    ("🎷", "not part of a chord's number", "🎷"), ("#", "needs a number|not part", "#"),
)  # fmt: skip


@pytest.mark.parametrize(("text", "message", "where"), PROBLEMS)
def test_what_cannot_be_read_is_located_and_advised(text: str, message: str, where: str) -> None:
    reading = read_answer(text, F)
    assert reading.answer is None
    assert reading.problem is not None
    assert any(part in reading.problem.message for part in message.split("|"))
    assert reading.problem.suggestion
    assert text[reading.problem.start : reading.problem.end] == where
    assert reading.echo == reading.problem.text


def test_nothing_typed_is_neither_answer_nor_problem() -> None:
    reading = read_answer("  ", F)
    assert (reading.answer, reading.problem, reading.echo) == (None, None, "")


@given(st.integers(-20, 20))
def test_degrees_and_fifths_are_inverse(fifths: int) -> None:
    assert degree_fifths(degree_at(fifths)) == fifths


plain_heads = st.sampled_from(["1", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7", "b2"])
qualities = st.sampled_from(["6", "maj7", "7", "7sus", "m6", "m7", "mmaj7", "m7b5", "dim", "dim7"])
goals = st.lists(st.sampled_from(["2", "3", "4", "5", "6", "b3"]), min_size=1, max_size=2).map(tuple)
answers = st.one_of(
    st.builds(Answer, plain_heads, qualities),
    st.builds(lambda of: Answer("5", "7", of), goals),
    st.builds(lambda of: Answer("5", "7", of, substitute=True), goals),
    st.builds(lambda of: Answer("2", "m7", of), goals),
)


@given(answers)
def test_the_written_form_is_read_back(answer: Answer) -> None:
    again = read_answer(answer.numeral).answer
    assert again is not None
    assert (again.degree, again.target, again.frame, again.full_quality) == (
        answer.degree, answer.target, answer.frame, answer.full_quality,
    )  # fmt: skip


@given(answers)
def test_the_spoken_form_is_read_back(answer: Answer) -> None:
    again = read_answer(answer.spoken).answer
    assert again is not None
    assert (again.degree, again.target) == (answer.degree, answer.target)


letters = st.text(alphabet="iIvVxXmMbB#♭♯°ø+-/ 0123456789:()ofsudAaEeGrltacknh.,Δ７Ⅴ\t\n", max_size=140)


@given(st.one_of(st.text(max_size=140), letters), st.sampled_from([None, F, Key.parse("C minor")]))
@example("b" * 119, F)
@example("of " * 40, F)
@example("5 of " * 24, F)
@example("((((((((((", F)
@example("İ: Ⅳ", F)
def test_reading_never_raises_and_is_quick(text: str, key: Key | None) -> None:
    start = time.process_time()
    reading = read_answer(text, key)
    assert time.process_time() - start < 1
    assert (reading.answer is None) or (reading.problem is None)
    if reading.answer is not None:
        assert reading.echo
        assert reading.answer.spoken
    if reading.problem is not None:
        assert 0 <= reading.problem.start <= reading.problem.end <= len(text)


@given(st.integers(1, 200_000))
def test_a_long_text_costs_no_more_than_a_short_one(length: int) -> None:
    reading = read_answer("5 of 2 " * length, F)
    assert reading.answer is None or length < 18


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("borrowed dim", "borrowed"),
        ("Secondary dim", "Secondary"),
        ("passing dominant", "passing"),
    ],
)
def test_a_kind_that_no_chord_has_is_told(text: str, word: str) -> None:
    """Common practice, no source: the word says the family, and many chords belong to it."""
    reading = read_answer(text)
    assert reading.answer is None
    problem = reading.problem
    assert text[problem.start : problem.end] == word
    assert "not which one" in problem.message


@pytest.mark.parametrize(
    ("text", "sort"),
    [
        ("passing dim", "passing"),
        ("secondary dominant", "applied"),
        ("Passing diminished", "passing"),
        ("Ab: applied dom", "applied"),
        ("the auxiliary diminished", "passing"),
    ],
)
def test_a_kind_of_chord_without_its_number_is_read_and_the_number_asked_for(text: str, sort: str) -> None:
    """Common practice, no source: the word says the family, and many chords belong to it."""
    reading = read_answer(text)
    assert reading.answer is not None
    assert reading.answer.sort == sort
    assert "still open" in reading.echo


@pytest.mark.parametrize(
    ("text", "plainly"),
    [
        ("passing #4 dim", "#4 dim"),
        ("secondary dominant of 2", "dominant of 2"),
        ("applied V/vi", "V/vi"),
        ("passing dim of 2", "dim of 2"),
        ("borrowed 4 minor", "4 minor"),
    ],
)
def test_beside_a_number_or_a_goal_the_word_is_welcome(text: str, plainly: str) -> None:
    assert read_answer(plainly).answer is not None
    assert read_answer(text).answer == read_answer(plainly).answer


ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
KINDS = ("maj7", "m7", "7", "m7b5", "dim7", "6", "m6", "7sus", "", "aug")


@given(st.lists(st.tuples(st.sampled_from(ROOTS), st.sampled_from(KINDS)), min_size=4, max_size=12))
def test_what_a_chord_is_called_aloud_is_a_right_answer(chords: list[tuple[str, str]]) -> None:
    """A player who types the numbers that the page says has named the chord (definition: the two forms are one)."""
    chart = parse_chart(" ".join(f"| {root}{kind}" for root, kind in chords) + " |").chart
    assert chart is not None
    for reading in analyse(chart).readings:
        for function, key in [(reading.function, reading.key), *((o.function, o.key) for o in reading.alternatives)]:
            found = read_answer(function.spoken, key)
            assert found.answer is not None, (function.spoken, function.numeral)
            closeness = compare(found.answer, function, key, key)
            assert (closeness.relation, closeness.quality != "wrong") == ("exact", True), (
                function.spoken,
                function.numeral,
            )
