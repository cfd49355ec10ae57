"""Which issued questions still have the key from before their chart was overruled, and what marking again would change.

Questions keep the key they were issued with, so that nobody is marked another way unawares. Where the chart has been
overruled since, the key is built again from the same seed and compared; nothing here writes.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.urls import reverse

from drills.kinds import kinds_that, question_kind
from drills.questions import prompt_for
from tunes.after_overrule import OldKey
from tunes.models import ChartRevision
from tunes.selectors import revisions_for_study, standing_overrules
from tunes.study import StudyChart, study_chart

from ..access import assignments_led
from ..issue import melody_for, questions_of
from ..marks import mark_answers
from ..models import Attempt, Mark, MarkOverride, Quiz, Step
from ..strictness import strictness_of
from .accepted import UNDECIDED
from .by_ear import as_heard
from .done import running

WORDS_ONLY = frozenset({"reason", "rule", "sound", "patterns", "neighbours", "played"})
"""Parts of a key that tell and do not mark: with them alone changed a key is not another one."""


@dataclass(frozen=True)
class NewMark:
    """What one answer earns with the key as it stands now. `question` carries the new key."""

    attempt: Attempt
    question: Mapping[str, Any]
    answer: str
    before: float
    after: float
    rule: str
    feedback: str

    @property
    def up(self) -> bool:
        return self.after > self.before


@dataclass(frozen=True)
class Remarking:
    """One step marked again. `changed` are the questions whose key is another one, with the new key and `was`.

    `marks` would change their points; `retold` keep them and only get new words; `kept` were given by a person and stay.
    """

    step: Step
    questions: tuple[Mapping[str, Any], ...]
    changed: tuple[Mapping[str, Any], ...]
    marks: tuple[NewMark, ...] = ()
    retold: tuple[NewMark, ...] = ()
    kept: int = 0
    being_written: int = 0

    @property
    def stamp(self) -> str:
        """Tells whether anything has changed since somebody looked at this."""
        seen = [[m.attempt.pk, m.attempt.version, m.question["id"], m.after] for m in self.marks]
        return hashlib.sha256(json.dumps([seen, [q["id"] for q in self.changed]]).encode()).hexdigest()[:24]

    @property
    def players(self) -> int:
        return len({mark.attempt.player_id for mark in self.marks})


def old_quizzes(user: Any, revisions: Sequence[int], **narrow: Any) -> list[Quiz]:
    """Quizzes of running assignments that `user` leads, issued with other overrules than stand now: three queries, and two
    more for each that was issued before it was kept which ones stood."""
    rows = list(_running(user).filter(step__assignment__revision__in=revisions, **narrow))
    now = standing_overrules(quiz.step.assignment.revision_id for quiz in rows) if rows else {}
    return [quiz for quiz in rows if _at_issue(quiz) != now[quiz.step.assignment.revision_id]]


def _running(user: Any) -> QuerySet[Quiz]:
    return (
        Quiz.objects.filter(
            step__kind__in=kinds_that(lambda kind: kind.key_in_words is not None),
            step__closed=None,
            step__assignment__closed=None,
            step__assignment__in=assignments_led(user).order_by().values("pk"),
            **running("step__assignment__ensemble__"),
        )
        .select_related("step__assignment__ensemble")
        .defer("asked")
        .order_by("step__assignment__created", "step__position")
    )


def _at_issue(quiz: Quiz) -> list[int]:
    revision = quiz.step.assignment.revision_id
    stored: list[int] | None = quiz.overrules
    return standing_overrules([revision], quiz.issued)[revision] if stored is None else stored


def told(user: Any, revision: ChartRevision) -> list[OldKey]:
    """For `tunes.after_overrule`: the steps of running assignments on this revision whose key is an old one."""
    return [
        OldKey(_named(step), reverse("work:mark-again", args=[step.pk]), "See whose mark would change")
        for step in steps_with_old_keys(user, [revision.pk])
    ]


def _named(step: Step) -> str:
    return f"{step.name}, {step.assignment.title} ({step.assignment.ensemble.name})"


def steps_with_old_keys(user: Any, revisions: Sequence[int], **narrow: Any) -> list[Step]:
    """Steps whose questions have another key on the chart as it stands now. Charts are read only where overrules changed."""
    found, studies = [], dict[int, StudyChart]()
    for quiz in old_quizzes(user, revisions, **narrow):
        revision = quiz.step.assignment.revision_id
        if revision not in studies:
            studies[revision] = study_chart(revisions_for_study().get(pk=revision))
        if _changed(quiz, _rebuilt(quiz, studies[revision])):
            found.append(quiz.step)
    return found


def remarking(step: Step) -> Remarking:
    """What marking the step again would change, over all goes that were handed in: eight queries."""
    quiz = Quiz.objects.select_related("step__assignment").get(step=step)
    study = study_chart(revisions_for_study().get(pk=step.assignment.revision_id))
    fresh = _rebuilt(quiz, study) if question_kind(step.kind).key_in_words else {}
    changed = _changed(quiz, fresh)
    ids = {q["id"] for q in changed}
    questions = tuple(q | {"key": fresh[q["id"]]} if q["id"] in ids else q for q in quiz.questions)
    rows = Attempt.objects.filter(step=step).select_related("player").order_by("player__name", "player", "number")
    attempts = [a for a in rows if not a.is_open]
    marks, retold, kept = _marked_again(quiz, attempts, questions, ids) if ids else ([], [], 0)
    return Remarking(step, questions, changed, tuple(marks), tuple(retold), kept, len(rows) - len(attempts))


def _rebuilt(quiz: Quiz, study: StudyChart) -> dict[str, Any]:
    """Question id → its key on the chart as it stands now. A question that another one stands for now has the key of that."""
    step = quiz.step
    melody = melody_for(step.assignment.revision, [step.kind])
    built = json.loads(json.dumps(questions_of(step, as_heard(step, study), melody, quiz.seed)))
    found = {q["id"]: q["key"] for q in built}
    by_event = {event: q["key"] for q in built for event in q.get("also") or ()}
    for q in quiz.questions:
        if q["id"] not in found and (event := q["key"].get("event")) in by_event:
            found[q["id"]] = by_event[event]
    return found


def _changed(quiz: Quiz, fresh: Mapping[str, Any]) -> tuple[dict[str, Any], ...]:
    return tuple(
        q | {"key": fresh[q["id"]], "was": q["key"], "prompt": prompt_for(q)}
        for q in quiz.questions
        if q["id"] in fresh and _marks(fresh[q["id"]]) != _marks(q["key"])
    )


def _marks(key: Any) -> Any:
    """What of a stored key decides the mark."""
    if isinstance(key, dict):
        return {name: _marks(value) for name, value in key.items() if name not in WORDS_ONLY}
    return [_marks(value) for value in key] if isinstance(key, list) else key


def _marked_again(
    quiz: Quiz, attempts: Sequence[Attempt], questions: Sequence[Mapping[str, Any]], ids: set[str]
) -> tuple[list[NewMark], list[NewMark], int]:
    pks = [attempt.pk for attempt in attempts]
    given: dict[int, dict[str, Mark]] = defaultdict(dict)
    for row in Mark.objects.filter(attempt__in=pks):
        given[row.attempt_id][row.question] = row
    standing = {
        (row.attempt_id, row.question): row for row in MarkOverride.objects.filter(attempt__in=pks).order_by("id")
    }
    strictness, by_id = strictness_of(quiz.step.assignment), {q["id"]: q for q in questions}
    marks, retold, kept = [], [], 0
    for attempt in attempts:
        answers = {name: row.answer for name, row in given[attempt.pk].items()}
        for new in mark_answers(questions, answers, strictness, home=quiz.home, written=attempt.written):
            if new.question not in ids or new.question not in answers:
                continue
            override = standing.get((attempt.pk, new.question))
            before = override or given[attempt.pk][new.question]
            if override and override.origin not in UNDECIDED:
                kept += override.points != new.points
                continue
            made = NewMark(attempt, by_id[new.question], new.answer, before.points, new.points, new.rule, new.feedback)
            if before.points != new.points:
                marks.append(made)
            elif new.points < 1 and before.feedback != new.feedback:
                retold.append(made)
    return marks, retold, kept
