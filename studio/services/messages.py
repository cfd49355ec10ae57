"""Writing to an ensemble, or to some of its players: in the app at once, in the daily letter whole, kept."""

from __future__ import annotations

import uuid
from collections.abc import Collection

from django.db import IntegrityError, transaction
from django.urls import reverse

from studio.models import Ensemble, Message, User
from studio.notices import notify_many

LINE = 120  # letters of a message that its notice shows


class NobodyToTell(ValueError):
    """None of the chosen people plays in the ensemble."""


def send_message(
    *, ensemble: Ensemble, by: User, text: str, players: Collection[User], everyone: bool, token: uuid.UUID
) -> Message:
    """Keep a message and tell the players. `players` are those of the ensemble or some of them; `everyone` says that all
    were meant. The same `token` again sends nothing. Raises `NobodyToTell`."""
    told = [player for player in players if player.pk != by.pk]
    if sent := Message.objects.filter(token=token, by=by).first():
        return sent
    if not told:
        raise NobodyToTell
    try:
        with transaction.atomic():
            made = Message.objects.create(ensemble=ensemble, by=by, text=text, to_all=everyone, token=token)
            made.to.set(told)
            url = reverse("studio:message", args=[made.pk])
            notify_many(told, "message", f"{by.name} to {_whom(made, len(told))}: {_line(text)}", url, message=made)
    except IntegrityError:
        return Message.objects.get(token=token, by=by)  # the double click was faster
    return made


def _whom(message: Message, count: int) -> str:
    if message.to_all:
        return message.ensemble.name
    return "you" if count == 1 else f"some of {message.ensemble.name}"


def _line(text: str) -> str:
    """The beginning of a text as one line."""
    line = " ".join(text.split())
    return line if len(line) <= LINE else f"{line[:LINE].rsplit(' ', 1)[0]} …"
