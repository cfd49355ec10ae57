"""Questions made from what the engine really says: every key answers itself, in every key and for every kind."""

from __future__ import annotations

import json

import pytest
from hypothesis import given

from drills.kinds import question_kinds
from drills.marking import Context, Strictness, mark
from drills.marking_rules import marking_rules
from drills.question_kind import Needs
from drills.questions import Question, build
from tests.drills.quiz_cases import TEXT, studied
from tests.drills.studies import FORM, chart, progressions
from tunes.harmony.charts import transpose_chart
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import Interval

BLUES = "key: F major\n| F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | Am7b5 D7b9 | Gm7 | C7 | F7 D7 | Gm7 C7 |"
MINOR = "key: C minor\n[A]\n| Cm7 | Dm7b5 G7 | Cm7 C7 | Fm7 | Fm7 | Bb7 | Ebmaj7 | Abmaj7 | Dm7b5 | G7alt | Cm6 | G7 |"
THIRDS = "key: C major\n| Cmaj7 Eb7 | Abmaj7 B7 | Emaj7 G7 | Cmaj7 | Dm7 Db7 | Cmaj7 C#dim7 | Fm6 Bb7 | Cmaj7 |"
TEXTS = {"cycling": TEXT, "song": FORM, "blues": BLUES, "minor": MINOR, "thirds": THIRDS}
STRICT = Strictness(quality=True, alternatives="none")


@pytest.mark.parametrize("name", TEXTS)
@pytest.mark.parametrize("interval", ["P1", "M2", "m3", "A4", "m6", "M7"])
def test_every_key_answers_itself(name: str, interval: str) -> None:
    study = studied(transpose_chart(chart(TEXTS[name]), Interval.parse(interval)))
    questions = build("function", study)
    assert questions
    for question in questions:
        key, context = question.key, Context(question.key["key"])
        assert mark("function", key, key["expected"]["numeral"], STRICT, context).points == 1, question.prompt
        assert mark("function", key, key["expected"]["spoken"], Strictness(), context).points == 1, question.prompt
        for other in key["equivalents"]:
            assert mark("function", key, other, Strictness(), context).points == 1, (question.prompt, other)
        for other in key["alternatives"]:
            text = f"{other['key']}: {other['function']['numeral']}"
            assert mark("function", key, text, Strictness(alternatives="full"), context).points == 1, (
                question.prompt,
                text,
            )


@pytest.mark.parametrize("name", TEXTS)
@pytest.mark.parametrize(
    "kind", [kind.id for kind in question_kinds().values() if kind.needs is not Needs.SOLO]
)  # made from a solo: test_marking_solo_notes
def test_every_kind_can_be_built_and_stored(name: str, kind: str) -> None:
    study = studied(chart(TEXTS[name]))
    questions = build(kind, study, None, 7)
    assert questions
    assert len({question.id for question in questions}) == len(questions)
    assert build(kind, study, None, 7) == questions, "the same seed gives the same questions"
    for question in questions:
        assert Question.from_json(json.loads(json.dumps(question.to_json()))) == question
        assert "{" not in question.prompt_in("M6")
        blank = mark(kind, question.key, "", Strictness())
        assert (blank.points, blank.rule) == (0, "blank")


@given(progressions)
def test_any_progression_can_be_asked_and_marked(symbols: list[ChordSymbol]) -> None:
    made = chart("| " + " | ".join(symbol.text for symbol in symbols) + " |")
    study = studied(made)
    for question in build("function", study):
        key = question.key
        found = mark("function", key, key["expected"]["numeral"], STRICT, Context(key["key"]))
        assert found.points == 1, (key["expected"], found)
    for kind in (kind for kind in question_kinds() if kind != "function"):
        for question in build(kind, study):
            found = mark(kind, question.key, "C E G", Strictness())
            assert 0 <= found.points <= 1
            assert found.rule in marking_rules(), kind
