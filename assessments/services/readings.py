"""Questioning how a chart reads a chord, and answering that: what both said is kept."""

from __future__ import annotations

import uuid

from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from studio.models import Membership, User
from studio.notices import notify, notify_many
from tunes.models import ChartRevision

from ..models import ReadingQuestion
from .assign import Stale
from .objections import AskedAlready


def question_reading(
    *, revision: ChartRevision, event: int, read_as: str, bar: str, player: User, text: str, token: uuid.UUID
) -> ReadingQuestion:
    """Keep a player's question on a chord and tell those who lead one of their ensembles. The same `token` asks once.
    Raises `AskedAlready` while an earlier one on that chord is not answered."""
    if made := ReadingQuestion.objects.filter(token=token, player=player).first():
        return made
    try:
        with transaction.atomic():
            made = ReadingQuestion.objects.create(
                revision=revision, event=event, read_as=read_as[:120], player=player, text=text, token=token
            )
    except IntegrityError as twice:
        if same := ReadingQuestion.objects.filter(token=token, player=player).first():
            return same
        raise AskedAlready from twice
    chairs = Membership.objects.filter(user=player, role=Membership.Role.PLAYER)
    leaders = Membership.objects.leading().filter(ensemble__in=chairs.values("ensemble")).exclude(user=player)
    notify_many(
        User.objects.filter(pk__in=leaders.values("user")),
        "questioned",
        f"{player.name} questions a reading in {bar}: {revision.version.tune.title}",
        reverse("work:reading-answer", args=[made.pk]),
    )
    return made


@transaction.atomic
def answer_reading(*, question: ReadingQuestion, by: User, outcome: str, answer: str) -> None:
    """Answer a question on a reading and tell the player. Raises `Stale` when somebody was first."""
    row = ReadingQuestion.objects.select_for_update(of=("self",)).get(pk=question.pk)
    if row.answered is not None:
        raise Stale
    row.outcome, row.answer, row.answered_by, row.answered = outcome, answer, by, timezone.now()
    row.save()
    title = question.revision.version.tune.title
    notify(
        question.player,
        "answered",
        f"{by.name} answered your question on a reading: {title}",
        reverse("work:reading-question", args=[row.revision_id, row.event]),
    )
