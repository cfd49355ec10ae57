"""Questioning a mark or a reading at its bar, and answering that: what both said is kept."""

from __future__ import annotations

import uuid

from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from studio.models import Membership, User
from studio.notices import notify, notify_many

from ..kinds import QUIZ
from ..models import Attempt, Objection
from ..selectors.desk import quiz_state
from .accepted import accept_answer
from .assign import Stale


class AskedAlready(Exception):
    """The same place of the sheet has been questioned and not been answered yet."""


def questionable(attempt: Attempt) -> bool:
    """Whether the marks of an attempt may be seen, and so questioned, by its player."""
    attempts = list(Attempt.objects.filter(step=attempt.step_id, player=attempt.player_id).order_by("number"))
    return attempt.step.about.how == QUIZ and not attempt.is_open and quiz_state(attempt.step, attempts).out


def question_mark(*, attempt: Attempt, question: str, about: str, text: str, token: uuid.UUID) -> Objection:
    """Keep a player's question on a mark and tell those who lead the ensemble. The same `token` asks once. Raises
    `AskedAlready`."""
    if made := Objection.objects.filter(token=token, attempt=attempt).first():
        return made
    try:
        with transaction.atomic():
            made = Objection.objects.create(attempt=attempt, question=question, about=about, text=text, token=token)
    except IntegrityError as twice:
        if same := Objection.objects.filter(token=token, attempt=attempt).first():
            return same
        raise AskedAlready from twice
    assignment = attempt.step.assignment
    leaders = Membership.objects.leading().filter(ensemble=assignment.ensemble_id).exclude(user=attempt.player_id)
    notify_many(
        User.objects.filter(pk__in=leaders.values("user")),
        "questioned",
        f"{attempt.player.name} questions a mark in {attempt.step.name}: {assignment.title}",
        reverse("work:objection", args=[made.pk]),
    )
    return made


@transaction.atomic
def answer_objection(
    *, objection: Objection, by: User, outcome: str, answer: str, written: str = "", everywhere: bool = False
) -> int:
    """Answer a question. With the outcome `accepted`, what was `written` there counts for everyone who wrote it, at
    this bar or `everywhere` the same stands. Returns how many marks changed. Raises `Stale` when somebody was first."""
    row = Objection.objects.select_for_update(of=("self",)).get(pk=objection.pk)
    if row.answered is not None:
        raise Stale
    row.outcome, row.answer, row.answered_by, row.answered = outcome, answer, by, timezone.now()
    row.save()
    attempt = objection.attempt
    changed = 0
    if outcome == Objection.Outcome.ACCEPTED:
        changed = accept_answer(
            step=attempt.step,
            question=row.question,
            answer=written,
            points=1,
            reason=answer[:400],
            by=by,
            everywhere=everywhere,
        )
    notify(
        attempt.player,
        "answered",
        f"{by.name} answered your question on {attempt.step.name}: {attempt.step.assignment.title}",
        reverse("work:attempt", args=[attempt.pk]) + f"#asked-{row.pk}",
    )
    return changed
