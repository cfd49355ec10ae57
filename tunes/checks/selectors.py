"""What reads bar checks."""

from __future__ import annotations

from typing import Any

from django.db.models import F, Max, QuerySet

from studio.access import may_be_asked
from tunes.access import closed
from tunes.models import BarCheck


def open_disputes() -> QuerySet[BarCheck]:
    """Every open dispute of the newest revisions, the oldest first. One query."""
    return (
        BarCheck.objects.filter(state="disputed", settled=None)
        .annotate(newest=Max("revision__version__revisions__number"))
        .filter(revision__number=F("newest"))
        .select_related("by", "recording", "revision__version__tune")
        .order_by("created")
    )


def disputes_seen(user: Any) -> QuerySet[BarCheck]:
    """The open disputes, without those on tunes that are closed to an instructor who plays elsewhere."""
    rows = open_disputes()
    if not may_be_asked(user):
        return rows
    tunes = rows.order_by().values_list("revision__version__tune", flat=True).distinct()
    return rows.exclude(revision__version__tune__in=list(closed(user, tunes)))
