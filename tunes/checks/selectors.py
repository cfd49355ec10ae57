"""What reads bar checks."""
from __future__ import annotations

from django.db.models import F, Max, QuerySet

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
