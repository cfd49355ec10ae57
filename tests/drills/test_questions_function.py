"""Questions about the function of every chord: what is asked, what is stored."""

from __future__ import annotations

import json

import pytest

from drills.comparers.function_feedback import sound
from drills.questions import Options, Question, build
from drills.questions.sound import sound_hint
from tests.drills.quiz_cases import NAMES, PARTS, SAID, C, Study, study
from tests.drills.studies import chart
from tunes.harmony.analysis.pipeline import Analysis, KeyArea, Reading
from tunes.harmony.chords import parse_symbol
from tunes.harmony.pitch.spelling import MAJOR_KEYS, Interval, Key


@pytest.fixture(name="questions")
def _questions() -> tuple[Question, ...]:
    return build("function", study())


def test_repeated_sections_are_asked_once(questions: tuple[Question, ...]) -> None:
    asked = [question.event for question in questions]
    assert asked == [*range(16), *range(29, 39)]
    assert questions[0].also == (16, 39)
    covered = sorted([*asked, *(event for question in questions for event in question.also)])
    assert covered == list(range(len(NAMES) - 1)), "every chord but the last bar, where none sounds"


def test_all_sections_when_the_instructor_wants_them() -> None:
    every = build("function", study(), Options(every_section=True))
    assert [question.event for question in every] == list(range(len(NAMES) - 1))
    assert build("function", study(), {"every_section": True}) == every


def test_a_chord_that_goes_on_is_asked_once() -> None:
    held = chart("[A]\n| Dm7 | % | G7 G7 | Cmaj7 |\n[A]\n| Dm7 | % | G7 | Dm7 |")
    parts = [PARTS[name] for name in ("ii", "ii", "V", "V", "I", "ii", "ii", "V", "ii")]
    readings = tuple(
        Reading(event=i, key=C, function=function, resolves_to=None, resolution="none", reason=SAID, local_key=C)
        for i, (function, _) in enumerate(parts)
    )
    areas = (KeyArea(key=C, first=0, last=8, reason=SAID),)
    found = Analysis(home=C, areas=areas, readings=readings, landing=(None,) * 9, engine="")
    asked = build("function", Study(held, found))
    assert {question.event: question.also for question in asked} == {0: (1, 5, 6), 2: (3, 7), 4: (), 8: ()}


def test_chosen_bars_only() -> None:
    chosen = build("function", study(), Options(bars=(2, 17)))
    assert [question.event for question in chosen] == [2, 3, 31]


def test_a_question_survives_json(questions: tuple[Question, ...]) -> None:
    for question in questions:
        assert Question.from_json(json.loads(json.dumps(question.to_json()))) == question


def test_ids_are_stable_and_unique(questions: tuple[Question, ...]) -> None:
    assert len({question.id for question in questions}) == len(questions)
    assert [question.id for question in build("function", study(), None, 99)] == [question.id for question in questions]


def test_the_context_does_not_give_the_answer_away(questions: tuple[Question, ...]) -> None:
    for question in questions:
        told = json.dumps([question.context, question.prompt])
        assert "numeral" not in told
        assert question.key["expected"]["numeral"] not in told.split('"')


def test_the_key_holds_what_marking_needs(questions: tuple[Question, ...]) -> None:
    key = next(question.key for question in questions if question.event == 1)
    assert key["chord"] == "A7"
    assert key["expected"]["numeral"] == "V7/ii"
    assert key["expected"]["spoken"] == "5 of 2"
    assert key["goal"] == {"event": 2, "chord": "Dm7", "bar": 2, "played": 2, "pass": 1}
    assert "VI7" in key["equivalents"]
    assert [other["function"]["numeral"] for other in key["neighbours"]] == ["Imaj7", "ii7"]


def test_new_areas_are_marked(questions: tuple[Question, ...]) -> None:
    assert [question.event for question in questions if question.key["new_area"]] == [29, 36]


def test_an_overruled_label_has_no_alternatives() -> None:
    plain = study()
    ruled = Study(plain.chart, plain.analysis, {4: object()})
    keys = {question.event: question.key for question in build("function", ruled)}
    assert keys[4]["overruled"]
    assert keys[4]["alternatives"] == []
    assert build("function", plain)[4].key["alternatives"]


@pytest.mark.parametrize("key", MAJOR_KEYS, ids=lambda key: key.short)
def test_functions_do_not_depend_on_the_key(key: Key) -> None:
    here = [question.key["expected"] for question in build("function", study(key))]
    assert here == [question.key["expected"] for question in build("function", study())]


def test_an_unknown_kind_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        build("astrology", study())


@pytest.mark.parametrize(("after", "says"), [
    ("Cmaj7", "Listen for its 7th, A♭: it slides a half step down, and the bass rises a whole step."),
    ("Em7", "Listen for its 7th, A♭: it slides a half step down to G, a note of Em7."),
    ("Cmaj7/E", "Listen for its 7th, A♭: it slides a half step down to G, a note of Cmaj7/E."),
    ("Am7", "Listen for its 7th, A♭: it slides a half step down to G, a note of Am7."),
    ("F#m7", "Listen for its 7th, A♭: it wants to slide a half step down."),
])  # fmt: skip
def test_what_moves_out_of_the_back_door_depends_on_what_comes(after: str, says: str) -> None:
    """The flat 7 dominant and its landing: Mulholland & Hojnacki 2013, ch. 5; the notes themselves by counting."""
    hint = sound_hint(PARTS["bVII7"][0], parse_symbol("Bb7").symbol, parse_symbol(after).symbol)
    assert sound({"sound": hint}, Interval.parse("P1")) == says
