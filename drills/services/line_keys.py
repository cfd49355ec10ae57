"""Practising a line in twelve keys: each key is an item with a spacing of its own; an instructor says what was heard."""

from __future__ import annotations

import datetime as dt

from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from drills import planning
from drills.line_keys import written_key
from drills.models import KeptLine, LineKey, LinePractice
from drills.services.practice import HELD
from studio.instruments import INSTRUMENTS
from studio.models import User
from studio.notices import notify


def record(
    *,
    user: User,
    line: KeptLine,
    tonic: int,
    tempo: int,
    went: str,
    token: str,
    note: str = "",
    now: dt.datetime | None = None,
) -> LineKey:
    """Log one practice of a line in a key and settle when it comes back. The same token twice is one practice."""
    now = now or timezone.now()
    try:
        with transaction.atomic():
            item = _item(user, line, tonic)
            LinePractice.objects.create(item=item, tempo=tempo, went=went, note=note[:300], token=token, when=now)
            item.card, item.due = planning.next_card(item.card, went, now)
            item.last_tempo, item.last_went, item.last_practised = tempo, went, now
            item.times += 1
            if went in HELD:
                item.tempo = max(item.tempo or 0, tempo)
            item.save()
            return item
    except IntegrityError:  # the other click was faster
        return LineKey.objects.get(user=user, line=line, tonic=tonic)


def _item(user: User, line: KeptLine, tonic: int) -> LineKey:
    shown = LineKey.objects.filter(user=user, line=line, shown=True).exists()
    LineKey.objects.get_or_create(user=user, line=line, tonic=tonic, defaults={"shown": shown})
    return LineKey.objects.select_for_update().get(user=user, line=line, tonic=tonic)


@transaction.atomic
def heard(*, player: User, line: KeptLine, tonic: int, tempo: int, by: User) -> tuple[LineKey, str]:
    """An instructor has heard a player play the line in a key; the player is told. Also the key as the player reads it."""
    item = _item(player, line, tonic)
    item.heard_by, item.heard_on, item.heard_tempo = by, timezone.now(), tempo
    item.save(update_fields=["heard_by", "heard_on", "heard_tempo"])
    key = written_key(tonic, "1min" in line.pattern.split(), INSTRUMENTS.get(player.instrument)).display
    name = f"the line {line.name}" if line.name else "your line"
    url = f"{reverse('drills:line', args=[line.pk])}?tonic={tonic}"
    notify(player, "line", f"{by.name} has heard {name} in {key} at {tempo}.", url)
    return item, key


def show(*, user: User, line: KeptLine, shown: bool) -> None:
    """Whether the others of the ensemble see in which keys this person plays the line."""
    LineKey.objects.filter(user=user, line=line).update(shown=shown)
