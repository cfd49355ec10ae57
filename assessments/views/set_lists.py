"""Set lists of an ensemble: one for each date, its cards to print, its packs."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.access import instructor_required, leads, led_or_404
from studio.instruments import instrument_choices
from studio.web import paginate
from tunes.harmony.pitch.spelling import Key, SpellingError
from tunes.pitch import read_sight

from ..access import set_lists_led, set_lists_seen
from ..forms import DateInput, PlanForm
from ..models import SetList
from ..selectors import set_lists as read
from ..services import set_lists as write
from .query import keep_ensemble, number_of


class SetListForm(forms.Form):
    on = forms.DateField(widget=DateInput, label="Date")
    where = forms.CharField(required=False, max_length=120, label="Where")


class SetTuneForm(PlanForm):
    """A tune to add, by its title."""

    field_order = ["tune"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["known_by"]


class DayOfForm(forms.Form):
    """Key, tempo and remark of one tune on the day."""

    key = forms.CharField(required=False, max_length=16)
    tempo = forms.IntegerField(required=False, min_value=20, max_value=400)
    note = forms.CharField(required=False, max_length=120)

    def clean_key(self) -> str:
        text = self.cleaned_data["key"].strip()
        if not text:
            return ""
        try:
            return Key.parse(text).text
        except SpellingError as error:
            raise forms.ValidationError(f"“{text}” is no key: type one such as Eb major or C minor.") from error


@instructor_required
@require_http_methods(["GET", "POST"])
def index(request: HttpRequest, pk: int) -> HttpResponse:
    """The set lists of an ensemble, and a new one."""
    ensemble = led_or_404(request.user, pk)
    keep_ensemble(request, ensemble)
    form = SetListForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        made = write.make_set_list(ensemble=ensemble, by=request.user, **form.cleaned_data)  # type: ignore[arg-type]
        return redirect("work:set-list", made.pk)
    context = {"ensemble": ensemble, "form": form, "page": paginate(request, ensemble.set_lists.all())}
    return render(request, "assessments/set_lists.html", context, status=422 if form.errors else 200)


@login_required
@require_http_methods(["GET", "POST"])
def page(request: HttpRequest, pk: int) -> HttpResponse:
    """One set list. Players of the ensemble read it; who leads it sees who knows what, and changes it."""
    if request.method == "GET":
        found = get_object_or_404(set_lists_seen(request.user), pk=pk)
        return _page(request, found, SetTuneForm())
    found = get_object_or_404(set_lists_led(request.user), pk=pk)
    if request.POST.get("act") == "add":
        form = SetTuneForm(request.POST)
        if form.is_valid() and _added(found, form):
            messages.success(request, f"Added: {form.cleaned_data['tune'].title}")
            return redirect("work:set-list", pk)
        return _page(request, found, form, status=422)
    _change(request, found)
    return redirect("work:set-list", pk)


def _added(found: SetList, form: SetTuneForm) -> bool:
    revision = read.chart_to_play(form.cleaned_data["tune"])
    if revision is None:
        form.add_error("tune", "This tune has no chart yet. Add one under Tunes first.")
        return False
    try:
        write.add_tune(set_list=found, revision=revision)
    except write.SetFull as full:
        form.add_error("tune", str(full))
        return False
    return True


def _change(request: HttpRequest, found: SetList) -> None:
    row = (
        found.tunes.select_related("revision__version__tune").filter(pk=number_of(request.POST.get("row")) or 0).first()
    )
    act = request.POST.get("act", "")
    if row is None:
        messages.error(request, "That tune is not on this list any more.")
    elif act in ("up", "down"):
        write.move_tune(row=row, by=-1 if act == "up" else 1)
    elif act == "out":
        row.delete()
        messages.success(request, f"Taken out: {row.revision.version.tune.title}")
    else:
        form = DayOfForm(request.POST)
        if form.is_valid():
            write.change_tune(row=row, **form.cleaned_data)
        else:
            messages.error(request, f"{row.revision.version.tune.title}: {next(iter(form.errors.values()))[0]}")


def _page(request: HttpRequest, found: SetList, form: SetTuneForm, status: int = 200) -> HttpResponse:
    leader = leads(request.user, found.ensemble)
    context = {
        "set_list": found,
        "leader": leader,
        "form": form,
        "rows": read.set_rows(found) if leader else [],
        "tunes": [] if leader else read.tunes_of_set(found),
    }
    return render(request, "assessments/set_list.html", context, status=status)


@login_required
@require_GET
def cards(request: HttpRequest, pk: int) -> HttpResponse:
    """The charts of a set list, one to a page, in the key of the day and the pitch of the reader."""
    found = get_object_or_404(set_lists_seen(request.user), pk=pk)
    sight = read_sight({"ensemble": str(found.ensemble_id), "for": request.GET.get("for", "")}, request.user)
    rows = read.cards(request.user, read.tunes_of_set(found, whole=True), sight)
    context = {"set_list": found, "cards": rows, "sight": sight, "instruments": instrument_choices()}
    return render(request, "assessments/set_cards.html", context)


@instructor_required
@require_POST
def packs(request: HttpRequest, pk: int) -> HttpResponse:
    """A pack for every tune of the list."""
    found = get_object_or_404(set_lists_led(request.user), pk=pk)
    made = write.make_packs(set_list=found, by=request.user)  # type: ignore[arg-type]
    if not made:
        messages.error(request, "Put a tune on the list first.")
        return redirect("work:set-list", pk)
    messages.success(
        request, f"{len(made)} pack{'s are' if len(made) > 1 else ' is'} being made for {found.ensemble.name}."
    )
    return redirect("drills:packs")
