"""Who hears a take: its player, and once it is given to an ensemble, who leads that ensemble. Nobody else, nowhere else.

Every page and call fetches takes, their comments and their files through here.
"""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from drills.takes.models import Take, TakeComment
from studio.access import ensembles_led, leads


def takes_heard(user: Any) -> QuerySet[Take]:
    """The takes that a person may hear."""
    led = ensembles_led(user).order_by().values("pk")
    return Take.objects.filter(Q(player=user.pk) | Q(ensemble__in=led))


def own_takes(user: Any) -> QuerySet[Take]:
    return Take.objects.filter(player=user.pk)


ALONG = ("player", "ensemble", "revision__version__tune", "line__solo", "advice")  # what the page of a take says
UNREAD = ("revision__analysis", "revision__text")


def take_or_404(user: Any, pk: int) -> Take:
    """A take that a person may hear, with what its page says; a foreign one is not there."""
    return get_object_or_404(takes_heard(user).select_related(*ALONG).defer(*UNREAD), pk=pk)


def heard_or_404(user: Any, take: Take) -> Take:
    """The same for a take that was fetched along with something else (`ALONG`, `UNREAD`): no query."""
    if take.player_id != user.pk and not may_comment(user, take):
        raise Http404
    return take


def may_comment(user: Any, take: Take) -> bool:
    """Who leads the ensemble it was given to; nobody on their own take."""
    return take.player_id != user.pk and take.ensemble_id is not None and leads(user, take.ensemble_id)


def comment_or_404(user: Any, pk: int) -> TakeComment:
    """A comment on a take that a person may hear."""
    rows = TakeComment.objects.select_related("take__player", "by")
    return get_object_or_404(rows.filter(take__in=takes_heard(user).order_by().values("pk")), pk=pk)
