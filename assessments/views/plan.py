"""Planning a term's repertoire: which tunes, in which order, known by when, and how far the ensemble is from each."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from studio.access import instructor_required
from studio.models import Ensemble
from studio.requests import MemberRequest

from ..access import planned_led
from ..forms import DayForm, PlanForm
from ..models import PlannedTune
from ..selectors import plan as read
from ..selectors.ledger import requirements
from ..services import plan as write
from .query import chosen_ensemble

MOVES = {"up": -1, "down": 1}


@instructor_required
@require_http_methods(["GET", "HEAD", "POST"])
def page(request: MemberRequest) -> HttpResponse:
    """The plan of one ensemble; a posted tune goes to its end."""
    choice = chosen_ensemble(request)
    ensemble = choice["ensemble"]
    if ensemble is None:
        return render(request, "assessments/plan.html", choice)
    form = PlanForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid() and _add(request, ensemble, form):
        return redirect(_address(ensemble))
    return render(
        request,
        "assessments/plan.html",
        _context(request, ensemble) | choice | {"form": form},
        status=422 if form.errors else 200,
    )


def _add(request: MemberRequest, ensemble: Ensemble, form: PlanForm) -> bool:
    data = form.cleaned_data
    try:
        write.plan_tune(ensemble=ensemble, tune=data["tune"], known_by=data["known_by"], by=request.user)
    except write.PlanFull as full:
        form.add_error("tune", str(full))
        return False
    messages.success(request, f"Planned: {data['tune'].title}")
    return True


def _context(request: HttpRequest, ensemble: Ensemble) -> dict[str, Any]:
    rows, players = read.planned(ensemble), read.players_for(ensemble)
    asked = requirements()
    counts = read.known_counts(players, asked)
    known = read.known_by_all(counts, players)
    show = "progressions" if request.GET.get("show") == "progressions" else "steps"
    found = (
        read.with_progressions(rows, counts, known)
        if show == "progressions"
        else read.with_steps(rows, players, counts, ensemble, asked)
    )
    return {"ensemble": ensemble, "rows": found, "players": players, "known": known, "show": show}


def _address(ensemble: Ensemble) -> str:
    return f"{reverse('work:plan')}?ensemble={ensemble.pk}"


@instructor_required
@require_POST
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Move a planned tune, give it another day, or take it out."""
    row = get_object_or_404(planned_led(request.user), pk=pk)
    act = request.POST.get("act", "")
    if act in MOVES:
        write.move(row=row, by=MOVES[act])
    elif act == "out":
        write.take_out(row=row)
        messages.success(request, f"Taken out of the plan: {row.tune.title}. What was done on it stays in the ledger.")
    elif act == "day":
        _set_day(request, row)
    else:
        messages.error(request, "Choose a day, another place, or take the tune out.")
    return redirect(_address(row.ensemble))


def _set_day(request: HttpRequest, row: PlannedTune) -> None:
    form = DayForm(request.POST)
    if form.is_valid():
        write.set_day(row=row, known_by=form.cleaned_data["known_by"])
        messages.success(request, f"Saved: {row.tune.title}")
    else:
        messages.error(request, f"{row.tune.title}: {form.errors['known_by'][0]}")
