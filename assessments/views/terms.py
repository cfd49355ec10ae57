"""A new term on one page: what goes on from the old one, seen before it is made."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date, timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from studio.access import director_required
from studio.forms import TermForm
from studio.models import Term
from studio.selectors import current_term

from ..selectors.carry import Carried, carried, weeks_between
from ..services.assign import CannotAsk
from ..services.carry import carry_over
from ..services.dues import past_dues
from .query import number_of


class CarryForm(TermForm):
    """The new term, and what of the old one goes on besides its ensembles and leaders."""

    weeks = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=260,
        label="Dates move by this many weeks",
        help_text="Empty: as far as the first days lie apart.",
    )
    players = forms.BooleanField(required=False, initial=True, label="Players keep their chairs and instruments")
    plan = forms.BooleanField(required=False, initial=True, label="Planned tunes that not everyone knows yet")


@director_required
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Choose, look, make. The old term becomes history as it was."""
    asked = number_of(request.POST.get("old") or request.GET.get("old"))
    old = Term.objects.filter(pk=asked).first() if asked else current_term()
    if old is None:
        messages.error(request, "There is no term to carry over from yet. Make the first one here.")
        return redirect("studio:terms")
    form = CarryForm(request.POST if request.method == "POST" else None, initial=_suggested(old))
    ready = request.method == "POST" and form.is_valid()
    weeks = _weeks(old, form) if ready else weeks_between(old.starts, _suggested(old)["starts"])
    chosen = _chosen(request)
    problem = ""
    if ready and request.POST.get("act") == "make":
        try:
            return _make(request, old, form, weeks, chosen)
        except CannotAsk as error:
            problem = f"Nothing was made. {error}"
    rows = carried(old, weeks)
    if chosen["ensembles"] is None:
        chosen["ensembles"] = {row.ensemble.pk for row in rows}
    return render(
        request,
        "assessments/new_term.html",
        {
            "old": old,
            "terms": Term.objects.all()[:12],
            "form": form,
            "rows": rows,
            "weeks": weeks,
            "preview": ready,
            "beyond": _beyond(rows, chosen["assignments"], form.cleaned_data["ends"]) if ready else "",
            "problem": problem,
            **chosen,
        },
        status=422 if form.errors or problem else 200,
    )


def _beyond(rows: Iterable[Carried], chosen: Collection[int], ends: date) -> str:
    """Which chosen steps would be due after the last day of the new term."""
    dues = [
        (f"{assignment.title}: {step.name}", due)
        for row in rows
        for assignment, steps in row.assignments
        if assignment.pk in chosen
        for step, due in steps
    ]
    return past_dues(dues, before=[due for _, due in dues if due and due < timezone.now()], ends=ends)


def _suggested(old: Term) -> dict[str, Any]:
    """The next term as long as the old one, from the same day of the week, and not in the past."""
    starts = old.ends + timedelta(days=1)
    starts += timedelta(days=(old.starts - starts).days % 7)
    while starts < timezone.localdate():
        starts += timedelta(weeks=1)
    return {"starts": starts, "ends": starts + (old.ends - old.starts), "players": True, "plan": True}


def _weeks(old: Term, form: CarryForm) -> int:
    weeks = form.cleaned_data["weeks"]
    return weeks_between(old.starts, form.cleaned_data["starts"]) if weeks is None else weeks


def _chosen(request: HttpRequest) -> dict[str, Any]:
    """Ids of the ticked ensembles and assignments; every ensemble before anything was sent."""
    if request.method != "POST":
        return {"ensembles": None, "assignments": set()}
    return {
        name: {pk for text in request.POST.getlist(name)[:500] if (pk := number_of(text))}
        for name in ("ensembles", "assignments")
    }


def _make(request: HttpRequest, old: Term, form: CarryForm, weeks: int, chosen: dict[str, Any]) -> HttpResponse:
    data = form.cleaned_data
    term = carry_over(
        old=old,
        name=data["name"],
        starts=data["starts"],
        ends=data["ends"],
        players=data["players"],
        plan=data["plan"],
        weeks=weeks,
        by=request.user,  # type: ignore[arg-type]
        **chosen,
    )
    messages.success(
        request, f"{term.name} is there with {len(chosen['ensembles'])} ensembles. {old.name} stays as it was."
    )
    return redirect("studio:term", term.pk)
