"""One typed answer, marked as the site marks it: the adapter for scoring answers from outside.

python -m tests.bench.answers TABLE [TABLE ...]   how many marks are a teacher's, for tables like
                                                   tests/drills/answers/teacher.txt
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from drills.marking import Context, Mark, Strictness
from drills.marking import mark as mark_answer
from drills.questions import Options, Question, build
from tests.bench.given import given
from tunes.harmony.charts.bar_count import bar_count
from tunes.study import StudyChart, study_of_text

STRICT = Strictness(quality=True)
STEPS = (0.0, 0.25, 0.5, 0.75, 1.0)
"""The marks a teacher gives: nothing, something of it, half, all but one small thing, all."""


def mark(chart_text: str, bar: int, chord: int, typed: str, kind: str = "function") -> float:
    """What an answer earns, 0 to 1, with the quality of chords asked and other readings at part credit.

    ``bar`` counts as played from 1, ``chord`` the chords of that bar from 1. Kinds asked of a whole bar ("changes") or
    of the whole chart ("form", "key-areas") take no notice of the chord, or of the bar: for them ``chord`` counts the
    questions that the kind asks of a chart.

    >>> mark("key: C major\\n| Cmaj7 | A7 | Dm7 G7 | Cmaj7 |", 3, 2, "5")
    1.0
    """
    return marked(chart_text, bar, chord, typed, kind).points


def marked(chart_text: str, bar: int, chord: int, typed: str, kind: str = "function") -> Mark:
    """The whole mark: points, rule and feedback."""
    study, questions = _asked(chart_text, kind)
    question = _question(study, questions, bar, chord)
    return mark_answer(kind, question.key, typed, STRICT, Context(key=study.analysis.home.text))


@lru_cache(maxsize=64)
def _asked(chart_text: str, kind: str) -> tuple[StudyChart, tuple[Question, ...]]:
    study = study_of_text(chart_text)
    return study, build(kind, study, Options(every_section=True))


def _question(study: StudyChart, questions: tuple[Question, ...], bar: int, chord: int) -> Question:
    """The question of a chord; a chord that only goes on is asked where it began. ValueError when nothing is asked there."""
    played = bar_count(study.chart).chorus
    here = [event.index for event in study.chart.events() if played[event.chorus_bar] == bar]
    event = here[chord - 1] if 0 < chord <= len(here) else None
    for question in questions:
        covered = {question.event, question.key.get("event"), *question.also}
        if (event is not None and event in covered) or set(here) & set(question.key.get("events") or ()):
            return question
    if questions and questions[0].event is None and "events" not in questions[0].key:
        return questions[min(max(chord, 1), len(questions)) - 1]
    raise ValueError(f"nothing is asked of chord {chord} in bar {bar}")


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a teacher's table."""

    chart: str
    text: str
    bar: int
    chord: int
    typed: str
    mark: float
    source: str
    why: str


def rows_of(table: str) -> Iterator[Row]:
    """The rows of a table: "== name", the chart, "--", then bar.chord, typed, mark, source and reason, tab between."""
    name, chart, rows = "", [], False
    for line in table.splitlines():
        if line.startswith("#") and not name:
            continue
        if line.startswith("== "):
            name, chart, rows = line[3:], [], False
        elif line == "--":
            rows = True
        elif rows and line:
            place, typed, points, source, why = line.split("\t")
            bar, _, chord = place.partition(".")
            yield Row(name, "\n".join(chart), int(bar), int(chord), typed, float(points), source, why)
        elif name:
            chart.append(line)


def step(points: float) -> int:
    """The nearest of the teacher's marks, as its place among `STEPS` (halfway between two: the higher)."""
    return min(range(len(STEPS)), key=lambda place: (abs(STEPS[place] - points), -place))


def main(paths: list[str]) -> None:
    """Prints the rows that differ and the share that agrees."""
    if not paths:
        sys.exit("Say which tables: python -m tests.bench.answers tests/drills/answers/teacher.txt")
    rows = [row for path in paths for row in rows_of(Path(path).read_text())]
    far = []
    for row in rows:
        found = marked(row.text, row.bar, row.chord, row.typed)
        if step(found.points) != step(row.mark):
            far.append(abs(step(found.points) - step(row.mark)))
            print(
                f"{row.chart}, {row.bar}.{row.chord} {row.typed!r}: {row.mark:g} ({row.why}); here {found.points:g}, {found.rule}"
            )
    equal = len(rows) - len(far)
    print(
        f"{equal} of {len(rows)} equal ({equal / len(rows):.1%}); {sum(1 for steps in far if steps > 1)} more than one step off"
    )


if __name__ == "__main__":
    given("a table of answers, such as tests/drills/answers/teacher.txt (several may be named)")
    main(sys.argv[1:])
