"""What a player's own quiz shows, and what it can be made from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from django.db.models import QuerySet

from drills.kinds import kinds_that, question_kind
from drills.question_kind import Needs
from drills.questions import prompt_for
from studio.instruments import INSTRUMENTS
from tunes.drawing import ChartView, draw_study
from tunes.models import ChartRevision
from tunes.study import StudyChart, analysis_of, study_of_text

from ..bars import Bars
from ..kinds import BY_HEART, KINDS
from ..models import Attempt, Mark, OwnQuiz
from .desk import is_out
from .quiz import Field, QuizPage, called_key, read_as, symbols_of
from .review import SheetRow

MONTH = timedelta(days=31)


def own_quizzes(player: Any) -> QuerySet[OwnQuiz]:
    """A player's own quizzes, the newest first, without their questions."""
    return OwnQuiz.objects.filter(player=player).defer("questions", "asked", "answers", "marks")


@dataclass(frozen=True)
class MissedQuestion:
    """A question that was not answered right, as it was stored, with what else is needed to ask it again."""

    revision: int
    tune: int
    title: str
    home: str
    question: Mapping[str, Any]


def missed(player: Any, now: datetime) -> list[MissedQuestion]:
    """What the player missed in the last month over all tunes and has not answered right since, the oldest first: assigned
    quizzes whose answers are out to them, and their own. Four queries."""
    seen: dict[tuple[int, str], tuple[float, MissedQuestion]] = {}
    found = [*_of_attempts(player, now), *_of_own(player, now)]
    for _, points, row in sorted(found, key=lambda item: item[0]):
        seen.pop((row.revision, row.question["id"]), None)
        seen[row.revision, row.question["id"]] = (points, row)
    return [row for points, row in seen.values() if points < 1 and row.question["kind"] not in _not_again()]


def _not_again() -> tuple[str, ...]:
    """The kinds that need a recording or a solo beside them."""
    return kinds_that(lambda kind: kind.needs in (Needs.RECORDING, Needs.SOLO))


def _of_attempts(player: Any, now: datetime) -> list[tuple[datetime, float, MissedQuestion]]:
    rows = (
        Attempt.objects.filter(player=player, handed_in__gte=now - MONTH, step__quiz__isnull=False)
        .exclude(step__kind__in=_not_again())
        .select_related("step__quiz", "step__assignment__tune")
    )
    attempts = list(rows)
    groups: dict[int, list[Attempt]] = {}
    for attempt in Attempt.objects.filter(player=player, step__in={a.step_id for a in attempts}):
        groups.setdefault(attempt.step_id, []).append(attempt)
    out = {a.pk: a for a in attempts if is_out(a.step, a, groups[a.step_id], now)}
    by_id = {pk: {q["id"]: q for q in a.step.quiz.questions} for pk, a in out.items()}
    found = []
    for mark in Mark.objects.filter(attempt__in=out).order_by("attempt_id", "position"):
        attempt = out[mark.attempt_id]
        question = by_id[attempt.pk].get(mark.question)
        if question is None or attempt.handed_in is None:
            continue
        at = attempt.step.assignment
        row = MissedQuestion(at.revision_id, at.tune_id, at.tune.title, attempt.step.quiz.home, question)
        found.append((attempt.handed_in, mark.points, row))
    return found


def _of_own(player: Any, now: datetime) -> list[tuple[datetime, float, MissedQuestion]]:
    found = []
    for quiz in OwnQuiz.objects.filter(player=player, handed_in__gte=now - MONTH)[:60]:
        for question, mark in zip(quiz.questions, quiz.marks, strict=False):
            part = quiz.parts[question["part"]]
            if quiz.handed_in is None or question["kind"] == BY_HEART:
                continue
            plain = {**question, "id": question["id"].partition(".")[2]}
            row = MissedQuestion(part["revision"], part["tune"], part["title"], part["home"], plain)
            found.append((quiz.handed_in, float(mark["points"]), row))
    return found


@dataclass(frozen=True)
class OwnPart(QuizPage):
    """One tune of an own quiz: its fields as the quiz page draws them. `number` counts from 0."""

    number: int = 0
    title: str = ""
    tune: int = 0
    asks: str = ""


@dataclass(frozen=True)
class OwnPage:
    """The page of an own quiz: what the quiz page reads of it, and the tunes one after the other."""

    parts: tuple[OwnPart, ...]

    @property
    def fields(self) -> tuple[Field, ...]:
        return tuple(field for part in self.parts for field in part.fields)

    @property
    def asks_notes(self) -> bool:
        return any(part.asks_notes for part in self.parts)

    @property
    def by_heart(self) -> bool:
        return any(part.by_heart for part in self.parts)

    @property
    def begun(self) -> bool:
        return any(part.begun for part in self.parts)

    @property
    def clef(self) -> str:
        return self.parts[0].clef if self.parts else "treble"

    @property
    def fifths(self) -> int:
        return self.parts[0].fifths if self.parts else 0


def own_page(quiz: OwnQuiz) -> OwnPage:
    """What the page of an open quiz shows; never a key. One query for the charts."""
    studies, number, parts = studies_of(quiz), 0, []
    for place, part in enumerate(quiz.parts):
        asked = Bars(studies[place].chart).told(q for q in quiz.asked if q["part"] == place)
        symbols = symbols_of(studies[place])
        fields = []
        for question in asked:
            number += 1
            fields.append(_field(number, question, quiz.answers.get(question["id"]), symbols, part["written"]))
        parts.append(_part(place, part, tuple(fields), asked, studies[place]))
    return OwnPage(tuple(parts))


def _part(
    place: int,
    part: Mapping[str, Any],
    fields: tuple[Field, ...],
    asked: Sequence[Mapping[str, Any]],
    study: StudyChart,
) -> OwnPart:
    kind = part["kind"]
    hidden = question_kind(kind).hides_chart
    on_chart = not hidden and all(field.event is not None for field in fields)
    view = None
    if not hidden:
        extras = {field.event: field for field in fields if field.event is not None} if on_chart else {}
        bars = {question["written"] for question in asked if question["written"] is not None}
        view = around(draw_study(study, analysed=False, extras=extras), bars, place)
    row = INSTRUMENTS.get(part["instrument"])
    return OwnPart(
        fields=fields, view=view, on_chart=on_chart, home=part["home"], shown_key=study.key.display,
        pitch=pitch_label(part), written=part["written"], clef=row.clef if row else "treble", fifths=study.key.fifths,
        called=called_key(part["home"], part["written"], part["instrument"]) if kind == BY_HEART else None,
        number=place, title=part["title"], tune=part["tune"], asks="" if kind == BY_HEART else KINDS[kind].asks,
    )  # fmt: skip


def pitch_label(part: Mapping[str, Any]) -> str:
    """How the pitch of a part is labelled."""
    row = INSTRUMENTS.get(part["instrument"])
    return "Concert pitch" if row is None or row.is_concert else f"Written for {row.name[0].lower()}{row.name[1:]}"


def _field(
    number: int, q: Mapping[str, Any], saved: Sequence[Any] | None, symbols: Mapping[int, Any], written: str
) -> Field:
    return Field(
        id=q["id"],
        kind=q["kind"],
        prompt=prompt_for(q, written),
        number=number,
        place=q["place"],
        played=q["played"],
        event=q.get("event"),
        answer_form=q.get("answer_form", "text"),
        text=saved[0] if saved else "",
        version=saved[1] if saved else 0,
        context=q.get("context") or {},
        symbol=symbols.get(q["event"]) if q.get("event") is not None else None,
    )


def studies_of(quiz: OwnQuiz) -> list[StudyChart]:
    """The chart of each part in the pitch it was begun in. One query."""
    rows = ChartRevision.objects.in_bulk({part["revision"] for part in quiz.parts})
    studies = []
    for part in quiz.parts:
        revision = rows[part["revision"]]
        study = study_of_text(revision.text, analysis_of(revision))
        studies.append(read_as(study, part["instrument"], part["written"], called=part["kind"] == BY_HEART))
    return studies


def around(view: ChartView, bars: set[int], part: int) -> ChartView:
    """A drawing cut down to the systems that hold some printed bars (all of them when none are named). Its bars take
    numbers of their own, so that several charts stand on one page."""
    sections = []
    for section in view.sections:
        systems: list[list[Any]] = []
        for bar in section.bars:
            if bar.desk.opens or not systems:
                systems.append([])
            systems[-1].append(replace(bar, index=1000 * part + bar.index))
        kept = [
            bar for system in systems if not bars or any(bar.bar.number in bars for bar in system) for bar in system
        ]
        if kept:
            sections.append(replace(section, bars=tuple(kept)))
    return replace(view, sections=tuple(sections))


@dataclass(frozen=True)
class OwnResult:
    """One tune of a quiz that was handed in: its chart with the marks, and bar by bar."""

    title: str
    tune: int
    pitch: str
    key: str
    kind: str
    view: ChartView | None
    bars: tuple[tuple[int | None, tuple[SheetRow, ...]], ...]


def own_results(quiz: OwnQuiz) -> list[OwnResult]:
    """What came of it, tune by tune. One query for the charts."""
    marks = {mark["question"]: mark for mark in quiz.marks}
    results, position = [], 0
    for place, (part, study) in enumerate(zip(quiz.parts, studies_of(quiz), strict=True)):
        symbols, rows = symbols_of(study), []
        for question in Bars(study.chart).told(q for q in quiz.questions if q["part"] == place):
            rows.append(_row(question, marks[question["id"]], position, symbols, part["written"]))
            position += 1
        extras = {row.events[0]: row for row in rows if row.events}
        bars = {row.question["written"] for row in rows if row.bar is not None}
        on_chart = len(extras) == len(rows)
        view = around(draw_study(study, analysed=False, extras=extras), bars, place) if on_chart else None
        results.append(
            OwnResult(
                part["title"], part["tune"], pitch_label(part), study.key.display, part["kind"], view, _by_bar(rows),
            )
        )  # fmt: skip
    return results


def _row(
    question: Mapping[str, Any], mark: Mapping[str, Any], position: int, symbols: Mapping[int, Any], written: str
) -> SheetRow:
    shown = Mark(
        question=question["id"], position=position, answer=mark["answer"], understood=mark["understood"],
        points=mark["points"], rule=mark["rule"], feedback=mark["feedback"],
    )  # fmt: skip
    row = SheetRow(shown, {**question, "prompt": prompt_for(question, written)})
    return replace(row, symbols=tuple(symbols[event] for event in row.events if event in symbols))


def _by_bar(rows: Sequence[SheetRow]) -> tuple[tuple[int | None, tuple[SheetRow, ...]], ...]:
    grouped: dict[int | None, list[SheetRow]] = {}
    for row in rows:
        grouped.setdefault(row.bar, []).append(row)
    return tuple((bar, tuple(found)) for bar, found in grouped.items())
