"""Lists that would grow with every term show those that have not ended, and the ended ones when somebody asks for them."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet, Subquery

from studio.access import ensembles_led
from studio.models import Ensemble

from ..access import assignments_led
from ..models import Assignment
from .done import running


def ensembles_to_choose(
    user: Any, *, older: bool, chosen: int | None = None, never_none: bool = False
) -> QuerySet[Ensemble]:
    """The ensembles that `user` leads, of terms that have not ended; with the `chosen` one, and with all that are `older`.
    `never_none`: those of the last term that they lead in too, so that a page about one ensemble has one between terms."""
    rows: QuerySet[Ensemble] = ensembles_led(user)
    if older:
        return rows
    wanted = Q(**running("")) | Q(pk=chosen or 0)
    if never_none:
        wanted |= Q(term=Subquery(rows.order_by("-term__starts", "-term").values("term")[:1]))
    return rows.filter(wanted)


def assignments_to_list(user: Any, *, older: bool, ensemble: int | None = None) -> QuerySet[Assignment]:
    """Assignments that `user` leads, the newest first, without the chart that they stand on."""
    rows = assignments_led(user).defer("revision__analysis", "revision__text").order_by("-created", "-id")
    if ensemble:
        return rows.filter(ensemble=ensemble)
    return rows if older else rows.filter(**running("ensemble__"))
