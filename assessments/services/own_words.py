"""A player's own words about a tune: what a line of the song means, and notes at bars. Nobody else sees them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from studio.models import User
from tunes.models import OwnNote, Tune

MOST = 400  # notes of one person at one tune
LONGEST = 600


class TooMany(ValueError):
    """More notes than are kept; the message says what to do."""


@transaction.atomic
def keep(*, user: User, tune: Tune, at_bars: Mapping[int, str], at_lines: Mapping[int, str]) -> None:
    """Keep what is given: by bar number, and by line of the words from 1. An empty text takes the note away."""
    for name, given in (("bar", at_bars), ("line", at_lines)):
        for number, text in given.items():
            text = text.replace("\x00", "").strip()[:LONGEST]
            place: dict[str, Any] = {"user": user, "tune": tune, name: number}
            if not text:
                OwnNote.objects.filter(**place).delete()
            else:
                OwnNote.objects.update_or_create(**place, defaults={"text": text})
    if OwnNote.objects.filter(user=user, tune=tune).count() > MOST:
        raise TooMany(f"More than {MOST} notes at one tune are not kept. Take some away first.")
