"""A kind of question for `tests/test_new_kind.py`: the tonic that every bar is heard against. This file is all there is of it."""

from __future__ import annotations

from typing import Any

from drills.comparers.note_names import read_notes
from drills.comparers.types import Context, Echo, Mark, StoredKey, Strictness
from drills.marking_rules import OTHER, points_for
from drills.question_kind import (
    Alone,
    AnsweredBy,
    Keypad,
    MarkingRule,
    Needs,
    Notes,
    Parts,
    QuestionKind,
    RuleTable,
)
from drills.questions.base import Options, Question
from tunes.harmony.charts.bar_count import bar_count, bar_name

ID = "tonics"
EXACT = MarkingRule("tonics-exact", "The tonic", "The note that the bar is heard against.", 1.0, 1.0, "F in F major")


def build(study: Any, options: Options, seed: int) -> tuple[Question, ...]:
    made: dict[int, Question] = {}
    count = bar_count(study.chart).chorus
    for event, reading in zip(study.chart.events(), study.analysis.readings, strict=True):
        bar, played = study.chart.bars[event.bar], count[event.chorus_bar]
        key = {"kind": ID, "bar": bar.number, "played": played, "tonic": reading.key.tonic.text}
        prompt = f"{bar_name(played, bar.number).capitalize()}: against which note?"
        made.setdefault(played, Question(f"{ID}:{played}", ID, prompt, None, bar.number, key, {"played": played}))
    return tuple(made.values())


def mark(key: StoredKey, text: str, strictness: Strictness, context: Context) -> Mark:
    if not text.strip():
        return Mark(0.0, "blank", f"It is {key['tonic']}.", "")
    said = read_notes(text).notes
    move = context.interval
    right = [(note - move).text for note in said] == [key["tonic"]]
    rule = EXACT if right else OTHER
    return Mark(points_for(rule.id, strictness.quality), rule.id, f"It is {key['tonic']}.", text)


def echo(text: str, context: Context) -> Echo:
    said = read_notes(text).notes
    return Echo(" ".join(note.text for note in said), True) if said else Echo("Type a note, like Bb.", False)


QUESTION_KIND = QuestionKind(
    id=ID,
    place=55,
    name="Tonics",
    short="Tonics",
    asks="Say against which note every bar is heard.",
    examples=("F", "Bb"),
    keypad=Keypad.NOTES,
    notes=Notes(count=1, stacked=False),
    needs=Needs.NOTHING,
    parts=Parts(label="Say", whole="The tonic", alone={"mode": "Major or minor"}),
    answered_by=AnsweredBy.ANALYSIS,
    hides_chart=True,
    tells_chords=False,
    key_in_words=lambda key: str(key["tonic"]),
    minutes=9,
    alone=Alone(place=99, seconds=30, mixed=False, at_a_chord=False),
    table=RuleTable(99, "Tonics", (EXACT, OTHER)),
    names_keys=False,
    upgrade=None,
    build=build,
    mark=mark,
    echo=echo,
)
