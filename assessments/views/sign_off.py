"""Signing off in person: one page for the whole ensemble."""
from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from studio.access import instructor_required
from studio.web import paginate

from ..access import sign_offs_led, steps_led
from ..forms import SignOffForm
from ..kinds import IN_PERSON
from ..models import SignOff, Step
from ..selectors.ledger import grid, players_of
from ..services.sign_off import NotOneself, sign_off, take_back


@instructor_required
@require_http_methods(["GET", "POST"])
def page(request: HttpRequest, pk: int) -> HttpResponse:
    """Every player with what they have done so far; tick those who played it, say on what evidence."""
    step = get_object_or_404(steps_led(request.user), pk=pk)
    if step.about.how != IN_PERSON:
        raise Http404
    players = players_of(step.assignment.ensemble)
    form = SignOffForm(request.POST or None, players=players)
    if request.method == "POST" and form.is_valid():
        try:
            rows = sign_off(step=step, by=request.user, **form.cleaned_data)
        except NotOneself as refused:
            form.add_error("players", str(refused))
        else:
            _say(request, len(rows))
            return redirect(request.get_full_path())
    return render(request, "assessments/sign_off.html", {
        "step": step, "form": form, **_rows(request, step)}, status=422 if form.errors else 200)


def _say(request: HttpRequest, count: int) -> None:
    if count:
        messages.success(request, f"Signed off: {count} player{'s' if count > 1 else ''}.")
    else:
        messages.info(request, "Nobody new was signed off: everyone ticked already was.")


def _rows(request: HttpRequest, step: Step) -> dict[str, Any]:
    shown = paginate(request, players_of(step.assignment.ensemble), per_page=40)
    signed = {row.player_id: row for row in SignOff.objects.filter(
        tune=step.assignment.tune_id, ensemble=step.assignment.ensemble_id, taken_back__isnull=True,
        player__in=[p.pk for p in shown]).select_related("by")}
    ticked = set(request.POST.getlist("players"))
    rows = [{"player": row.player, "standing": row.cells[0][1], "signed": signed.get(row.player.pk),
             "ticked": str(row.player.pk) in ticked, "own": row.player.pk == request.user.pk}
            for row in grid(list(shown), [step.assignment.tune])]
    return {"rows": rows, "page": shown}


@instructor_required
@require_POST
def back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take one sign-off back."""
    row = get_object_or_404(sign_offs_led(request.user), pk=pk)
    try:
        take_back(sign_off_id=row.pk, by=request.user)
    except NotOneself as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"Taken back: {row.player.name}, {row.tune.title}. The record keeps both.")
    if row.step_id:
        return redirect("work:sign-off", row.step_id)
    return redirect("work:player", row.player_id)
