"""Assigning a tune: the questions are built here, once, and stored with their key."""

from __future__ import annotations

import secrets
import uuid
from collections import defaultdict
from collections.abc import Collection, Sequence
from copy import copy
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F
from django.urls import reverse
from django.utils import timezone

from drills.kinds import question_kinds
from drills.question_kind import Needs
from studio.happenings import Kind, happened
from studio.models import Ensemble, Membership, User
from studio.notices import notify_many, unread_notices
from tunes.interchange.melody import Melody
from tunes.models import ChartRevision, Recording
from tunes.selectors import standing_overrules
from tunes.study import StudyChart, study_chart

from ..issue import melody_for, questions_of
from ..kinds import KINDS, QUIZ, SOLO_KINDS
from ..models import Assignment, Quiz, Step
from ..selectors.by_ear import as_heard
from .cues import cue_released
from .shown import keep_all_shown
from .solo_steps import NoSuchPassage, solo_options


class CannotAsk(ValueError):
    """A quiz of some kind can't be made from this chart; the message says which and why."""


class Stale(Exception):
    """Someone else changed the object since this person read it."""


@dataclass(frozen=True)
class StepPlan:
    """A step as the assign page asks for it."""

    kind: str
    title: str = ""
    due: datetime | None = None
    times: int = 1
    options: dict[str, Any] = field(default_factory=dict)


def assign(
    *,
    by: User,
    ensemble: Ensemble,
    revision: ChartRevision,
    title: str,
    steps: Sequence[StepPlan],
    token: uuid.UUID | None = None,
    tell: bool = True,
    **fields: Any,
) -> Assignment:
    """Make an assignment, issue its quizzes and tell the players. The same `token` again gives the same one.

    `fields` are further fields of `Assignment`. Raises `CannotAsk` when a quiz would have no question.
    """
    if token and (made := Assignment.objects.filter(token=token).first()):
        return made
    try:
        with transaction.atomic():
            assignment = Assignment.objects.create(
                ensemble=ensemble,
                tune_id=revision.version.tune_id,
                revision=revision,
                title=title,
                created_by=by,
                token=token,
                **fields,
            )
            add_steps(assignment, steps)
            happened(Kind.ASSIGNED, **_ids(assignment))
            if tell:
                _tell_players(assignment)
    except IntegrityError:
        if token and (made := Assignment.objects.filter(token=token).first()):
            return made
        raise
    return assignment


@transaction.atomic
def assign_to_several(
    *, by: User, ensembles: Sequence[Ensemble], token: uuid.UUID | None = None, **what: Any
) -> list[Assignment]:
    """The same assignment for each ensemble, all of them or none. Arguments as for `assign`; the same `token` again gives
    the same ones."""
    return [
        assign(by=by, ensemble=ensemble, token=uuid.uuid5(token, str(ensemble.pk)) if token else None, **what)
        for ensemble in ensembles
    ]


def add_steps(assignment: Assignment, steps: Sequence[StepPlan]) -> None:
    """Append steps to an assignment, each quiz with its key as the chart and overrules stand now."""
    first = assignment.steps.count()
    rows = Step.objects.bulk_create(
        [
            Step(
                assignment=assignment,
                position=first + i,
                kind=plan.kind,
                title=plan.title,
                due=plan.due,
                times=plan.times,
                options=_options(assignment, plan),
            )
            for i, plan in enumerate(steps)
        ]
    )
    asked = [step for step in rows if step.about.how == QUIZ]
    if asked:
        study = study_chart(assignment.revision)
        melody = melody_for(assignment.revision, [step.kind for step in asked])
        standing = standing_overrules([assignment.revision_id])[assignment.revision_id]
        Quiz.objects.bulk_create([_issue(step, study, melody, standing) for step in asked])


def _options(assignment: Assignment, plan: StepPlan) -> dict[str, Any]:
    """What the plan chose; what is asked by ear also keeps which recording it is taken from, and the key it sounds in.

    The recording is the one that the chart was taken from, or else the tune's reference. Raises `CannotAsk`.
    """
    if plan.kind in SOLO_KINDS:
        try:
            return solo_options(assignment, plan.kind, plan.options)
        except NoSuchPassage as problem:
            raise CannotAsk(str(problem)) from problem
    asked = question_kinds().get(plan.kind)
    if asked is None or asked.needs is not Needs.RECORDING:
        return plan.options
    heard = (
        assignment.revision.source_recording
        or Recording.objects.filter(tune=assignment.tune_id, is_reference=True).first()
    )
    if heard is None:
        raise CannotAsk(
            f"{asked.name}: this tune has no reference recording to hear. Choose one on the tune's "
            "page, then assign it."
        )
    return {**plan.options, "recording": heard.pk, "key": heard.key}


def _issue(step: Step, study: StudyChart, melody: Melody | None, overrules: list[int]) -> Quiz:
    seed = secrets.randbits(31)
    study = as_heard(step, study)
    questions = questions_of(step, study, melody, seed)
    if not questions:
        raise CannotAsk(f"{step.about.name}: this chart gives nothing to ask. Choose another step or chart.")
    return Quiz(
        step=step,
        seed=seed,
        engine=study.computed.engine,
        ids=[q["id"] for q in questions],
        asked=[{k: v for k, v in q.items() if k != "key"} for q in questions],
        questions=questions,
        home=study.key.text if study.key else "",
        overrules=overrules,
    )


@transaction.atomic
def edit_assignment(
    *,
    assignment_id: int,
    version: int,
    fields: dict[str, Any],
    dues: dict[int, datetime | None],
    more: Sequence[StepPlan] = (),
    closed: Collection[int] | None = None,
) -> Assignment:
    """Change texts, dates, attempts and release; questions already issued stay. Raises `Stale`.

    `closed`: the ids of all steps that are no longer asked; None leaves them as they are. The players are told of new
    dates and of steps that are new, taken back or asked again.
    """
    assignment = Assignment.objects.select_for_update().get(pk=assignment_id)
    if assignment.version != version:
        raise Stale
    keep_all_shown(assignment)
    for name, value in fields.items():
        setattr(assignment, name, value)
    assignment.version += 1
    assignment.save()
    before = list(assignment.steps.all())
    steps = [_edited(step, dues, closed) for step in before]
    Step.objects.bulk_update(steps, ["due", "closed"])
    if more:
        add_steps(assignment, more)
    if said := _what_changed(before, steps, more):
        notify_many(_players(assignment), "changed", f"{assignment.title}: {said}", _url(assignment))
    return assignment


def _edited(step: Step, dues: dict[int, datetime | None], closed: Collection[int] | None) -> Step:
    new = copy(step)
    new.due = dues.get(step.pk, step.due)
    if closed is not None:
        new.closed = (step.closed or timezone.now()) if step.pk in closed else None
    return new


def _what_changed(before: Sequence[Step], after: Sequence[Step], more: Sequence[StepPlan]) -> str:
    """One line for the players, "" when nothing that concerns them has changed."""
    parts, moved = [], defaultdict(list)
    for old, new in zip(before, after, strict=True):
        if bool(old.closed) != bool(new.closed):
            parts.append(f"{new.name} {'is no longer asked' if new.closed else 'is asked again'}")
        elif old.due != new.due and not new.closed:
            moved[new.due].append(new.name)
    for due, names in moved.items():
        parts.append(
            f"{', '.join(names)} now {f'due {timezone.localtime(due):%a %-d %b}' if due else 'without a date'}"
        )
    if more:
        parts.append("new: " + ", ".join(plan.title or KINDS[plan.kind].name for plan in more))
    return "; ".join(parts)


@transaction.atomic
def close_assignment(*, assignment_id: int) -> None:
    """Ask for nothing of it any more. What was handed in stays, for the player and in the ledger; where nothing was
    begun the players see it no longer. Twice closes once."""
    if Assignment.objects.filter(pk=assignment_id, closed=None).update(closed=timezone.now(), version=F("version") + 1):
        assignment = Assignment.objects.get(pk=assignment_id)
        happened(Kind.CLOSED, **_ids(assignment))
        _tell_instead(
            assignment,
            "closed",
            f"No longer asked: {assignment.title}",
            _closed_url(assignment),
            instead_of=("assigned", _url(assignment)),
        )


@transaction.atomic
def ask_again(*, assignment_id: int) -> None:
    """Undo `close_assignment`."""
    if Assignment.objects.filter(pk=assignment_id).exclude(closed=None).update(closed=None, version=F("version") + 1):
        assignment = Assignment.objects.select_related("ensemble").get(pk=assignment_id)
        happened(Kind.ASSIGNED, **_ids(assignment))
        _tell_instead(
            assignment,
            "assigned",
            f"Asked of {assignment.ensemble.name}: {assignment.title}",
            _url(assignment),
            instead_of=("closed", _closed_url(assignment)),
        )


def _tell_instead(assignment: Assignment, kind: str, text: str, url: str, *, instead_of: tuple[str, str]) -> None:
    """Take back the notice (kind, url) where nobody has read it yet, and tell the others."""
    players = _players(assignment)
    unread = unread_notices(players, *instead_of)
    spared = set(unread.values_list("user_id", flat=True))
    unread.delete()
    notify_many([player for player in players if player.pk not in spared], kind, text, url)


def _closed_url(assignment: Assignment) -> str:
    """The desk, told apart by assignment: its own page may be gone for the player."""
    return f"{reverse('work:desk')}?closed={assignment.pk}"


@transaction.atomic
def release_answers(*, assignment: Assignment) -> None:
    """Let every player see marks and answers of what they handed in. Twice does nothing twice; what fails half way has
    released nothing, so that it can be tried again."""
    changed = Assignment.objects.filter(pk=assignment.pk, released_at__isnull=True).update(
        released_at=timezone.now(), version=F("version") + 1
    )
    if changed:
        assignment.refresh_from_db(fields=["released_at"])
        keep_all_shown(assignment)
        cue_released(assignment)
        happened(Kind.RELEASED, **_ids(assignment))
        notify_many(_players(assignment), "released", f"Answers are out: {assignment.title}", _url(assignment))


def withhold_answers(*, assignment: Assignment) -> None:
    """Undo `release_answers`."""
    Assignment.objects.filter(pk=assignment.pk).update(released_at=None, version=F("version") + 1)


def _tell_players(assignment: Assignment) -> None:
    notify_many(
        _players(assignment),
        "assigned",
        f"Assigned to {assignment.ensemble.name}: {assignment.title}",
        _url(assignment),
    )


def _ids(assignment: Assignment) -> dict[str, int]:
    return {"assignment": assignment.pk, "ensemble": assignment.ensemble_id, "tune": assignment.tune_id}


def _players(assignment: Assignment) -> list[User]:
    return list(
        User.objects.filter(memberships__ensemble=assignment.ensemble, memberships__role=Membership.Role.PLAYER)
    )


def _url(assignment: Assignment) -> str:
    return reverse("work:assignment", args=[assignment.pk])
