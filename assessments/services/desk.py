"""How a player likes their desk."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils import timezone

from studio.models import User

from ..models import DeskHabit
from ..today import CHOICES, until_tomorrow

MOST_OUT = 60  # things left out at once


@transaction.atomic
def set_habit(
    *, player: User, minutes: int | None = None, in_words: bool | None = None, leave_out: str = "", take_back: str = ""
) -> DeskHabit:
    """Keep what is given; `leave_out` names a piece of work that waits until tomorrow, `take_back` one that does not."""
    DeskHabit.objects.get_or_create(player=player)
    habit = DeskHabit.objects.select_for_update().get(player=player)
    today = timezone.localdate()
    out = until_tomorrow(habit.left_out, today)
    if minutes in CHOICES:
        habit.minutes = minutes
    if in_words is not None:
        habit.in_words = in_words
    if leave_out and len(out) < MOST_OUT:
        out[leave_out.replace("\x00", "")[:80]] = (today + dt.timedelta(days=1)).isoformat()
    out.pop(take_back, None)
    habit.left_out = out
    habit.save()
    return habit
