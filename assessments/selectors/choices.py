"""Lists that would grow with every term show those that have not ended, and the ended ones when somebody asks for them."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet

from studio.access import ensembles_led
from studio.models import Ensemble

from ..access import assignments_led
from ..models import Assignment
from .done import running


def ensembles_to_choose(user: Any, *, older: bool, chosen: int | None = None) -> QuerySet[Ensemble]:
    """The ensembles that `user` leads, of terms that have not ended; with the `chosen` one, and with all that are `older`."""
    rows: QuerySet[Ensemble] = ensembles_led(user)
    return rows if older else rows.filter(Q(**running("")) | Q(pk=chosen or 0))


def assignments_to_list(user: Any, *, older: bool, ensemble: int | None = None) -> QuerySet[Assignment]:
    """Assignments that `user` leads, the newest first, without the chart that they stand on."""
    rows = assignments_led(user).defer("revision__analysis", "revision__text").order_by("-created", "-id")
    if ensemble:
        return rows.filter(ensemble=ensemble)
    return rows if older else rows.filter(**running("ensemble__"))
