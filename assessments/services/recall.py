"""What was brought up from memory comes back after days, in another key: when, and in which.

When it comes back is settled by the scheduler that the drills use (`drills.planning.next_card`), from how much of it
was right: the shares are common practice, no source.
"""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from drills.planning import next_card
from studio.instruments import INSTRUMENTS
from studio.models import User
from tunes.harmony.pitch.spelling import UNISON, Interval, Key

from ..called import called_in, interval_to, key_called, next_key
from ..kinds import BY_HEART
from ..models import Attempt, Recall, Step
from ..selectors.recall import keys_gone_well

WENT = ((95, "with ease"), (80, "steady"), (55, "with slips"), (0, "fell apart"))
GONE_WELL = 80  # percent from which a key counts as done
NUMBERS = "numbers"


def went(percent: int) -> str:
    """How it went, in the words of the practice log.

    >>> went(100), went(80), went(60), went(10)
    ('with ease', 'steady', 'with slips', 'fell apart')
    """
    return next(word for least, word in WENT if percent >= least)


@transaction.atomic
def recalled(
    *, player_id: int, tune_id: int, what: str, percent: int, key: str = "", now: datetime | None = None
) -> Recall:
    """Keep that something was brought up from memory, and settle when it is worth doing again."""
    now = now or timezone.now()
    Recall.objects.get_or_create(player_id=player_id, tune_id=tune_id, what=what, defaults={"due": now, "last": now})
    row = Recall.objects.select_for_update().get(player=player_id, tune=tune_id, what=what)
    row.card, row.due = next_card(row.card, went(percent), now)
    row.last, row.percent, row.times = now, percent, row.times + 1
    if key and percent >= GONE_WELL and key not in row.keys:
        row.keys = [*row.keys, key]
    row.save()
    return row


def call_for(step: Step, player: User, home: Key, instrument: Interval, before: int) -> str:
    """The interval (name) to the page of a player who is called on: in the key of the step, or in one drawn for them."""
    key = key_called(home, str(step.options.get("called") or ""))
    if key is None:
        seed = step.pk * 1_000_003 + player.pk * 101 + before
        key = next_key(home, keys_gone_well(player, step.assignment.tune_id), seed)
    return interval_to(home, key, instrument).name


def recalled_step(attempt: Attempt, now: datetime) -> None:
    """A step by heart was handed in: the tune comes back after days, in another key."""
    step = attempt.step
    if step.kind != BY_HEART:
        return
    row = INSTRUMENTS.get(attempt.instrument)
    key = called_in(step.quiz.home, attempt.written, row.interval.simple if row else UNISON)
    recalled(
        player_id=attempt.player_id,
        tune_id=step.assignment.tune_id,
        what=Recall.What.NUMBERS if step.options.get("part") == NUMBERS else Recall.What.CHANGES,
        percent=attempt.percent or 0,
        key=key.text if key else "",
        now=now,
    )
