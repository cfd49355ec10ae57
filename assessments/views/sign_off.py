"""Signing off in person: one page for the whole ensemble."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from drills.takes.selectors import takes_of
from studio.access import instructor_required
from studio.models import User
from studio.requests import MemberRequest
from studio.web import paginate

from ..access import sign_offs_led, steps_led
from ..forms import SignOffForm
from ..kinds import IN_PERSON, KINDS
from ..learned import SIGN_OFF, Standing, StepStanding
from ..models import SignOff, Step
from ..selectors.ledger import grid, players_of
from ..services.sign_off import NotOneself, sign_off, take_back


@instructor_required
@require_http_methods(["GET", "POST"])
def page(request: MemberRequest, pk: int) -> HttpResponse:
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
            _say(request, step, rows)
            return redirect(request.get_full_path())
    return render(
        request,
        "assessments/sign_off.html",
        {"step": step, "form": form, **_rows(request, step)},
        status=422 if form.errors else 200,
    )


def _say(request: HttpRequest, step: Step, rows: Sequence[SignOff]) -> None:
    """Who was signed off, and whose other steps are still to be done."""
    if not rows:
        messages.info(request, "Nobody new was signed off: everyone ticked already was.")
        return
    messages.success(request, f"Signed off: {len(rows)} player{'s' if len(rows) > 1 else ''}.")
    players = list(User.objects.filter(pk__in=[row.player_id for row in rows]).order_by("name"))
    lacking = [
        (row.player.name, lacks) for row in grid(players, [step.assignment.tune]) if (lacks := _lacks(row.cells[0][1]))
    ]
    if lacking:
        words = "; ".join(
            f"{name} ({', '.join(KINDS[s.kind].short.lower() for s in lacks)})" for name, lacks in lacking
        )
        messages.warning(request, f"Still to be done before the tune counts as learned: {words}.")


def _lacks(found: Standing) -> list[StepStanding]:
    """The steps that the programme asks for and that are not done, the signature apart."""
    return [step for step in found.steps if not step.done and step.kind != SIGN_OFF]


def _rows(request: HttpRequest, step: Step) -> dict[str, Any]:
    shown = paginate(request, players_of(step.assignment.ensemble), per_page=40)
    signed = {
        row.player_id: row
        for row in SignOff.objects.filter(
            tune=step.assignment.tune_id,
            ensemble=step.assignment.ensemble_id,
            taken_back__isnull=True,
            player__in=[p.pk for p in shown],
        ).select_related("by")
    }
    heard = takes_of(request.user, step.assignment.ensemble_id, step.assignment.tune_id, [p.pk for p in shown])
    ticked = set(request.POST.getlist("players"))
    rows = [
        {
            "player": row.player,
            "done": [s for s in row.cells[0][1].steps if s.done and s.kind != SIGN_OFF],
            "lacks": _lacks(row.cells[0][1]),
            "signed": signed.get(row.player.pk),
            "ticked": str(row.player.pk) in ticked,
            "takes": heard.get(row.player.pk, []),
            "own": row.player.pk == request.user.pk,
        }
        for row in grid(list(shown), [step.assignment.tune])
    ]
    return {"rows": rows, "page": shown}


@instructor_required
@require_POST
def back(request: MemberRequest, pk: int) -> HttpResponse:
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
