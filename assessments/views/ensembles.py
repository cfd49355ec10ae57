"""An ensemble's own page, which leads to everything of it; reminding those who have not begun."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from studio.access import instructor_required, led_or_404
from studio.models import User

from ..access import assignments_led
from ..selectors import ensembles as read
from ..selectors.ledger import players_of
from ..services.remind import remind, unremind
from .query import keep_ensemble, number_of


@instructor_required
@require_GET
def page(request: HttpRequest, pk: int) -> HttpResponse:
    """What waits in one ensemble, and the way to everything of it."""
    ensemble = led_or_404(request.user, pk)
    keep_ensemble(request, ensemble)
    return render(
        request, "assessments/ensemble.html", {"ensemble": ensemble, **read.ensemble_page(request.user, ensemble)}
    )


@instructor_required
@require_POST
def remind_these(request: HttpRequest, pk: int) -> HttpResponse:
    """Remind the ticked players of an assignment, or take that back."""
    found = get_object_or_404(assignments_led(request.user).prefetch_related("steps"), pk=pk)
    players = _ticked(request, found.ensemble)
    back = reverse("work:assignment", args=[pk])
    if request.POST.get("undo"):
        count = unremind(assignment=found, players=players)
        messages.success(request, f"Reminders taken back: {count}.")
        return redirect(f"{back}#waits")
    if not players:
        messages.error(request, "Tick at least one player to remind.")
        return redirect(f"{back}#waits")
    steps = list(found.steps.all())
    for step in steps:
        step.assignment = found
    remind(assignment=found, steps=steps, players=players)
    ids = ",".join(str(player.pk) for player in players)
    return redirect(f"{back}?reminded={ids}&at={timezone.localtime():%H:%M}#waits")


def _ticked(request: HttpRequest, ensemble: Any) -> list[User]:
    """Players of the ensemble among the ticked ones; foreign ids are simply not there."""
    ids = [number for text in request.POST.getlist("players") if (number := number_of(text))]
    return list(players_of(ensemble).filter(pk__in=ids))
