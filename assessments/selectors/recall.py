"""What a player has brought up from memory, and in which keys."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from ..models import Recall


def recalls(player: Any) -> QuerySet[Recall]:
    """What comes back, the one due first at the top."""
    return Recall.objects.filter(player=player).select_related("tune")


def keys_gone_well(player: Any, tune_id: int) -> list[str]:
    """The concert keys in which the player has brought up this tune, its chords or its numbers. One query."""
    rows = Recall.objects.filter(player=player, tune=tune_id).values_list("keys", flat=True)
    return sorted({key for keys in rows for key in keys})
