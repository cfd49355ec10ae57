"""What an instructor hears otherwise: a label or a key area set, withdrawn, restored; every time a bar sounds or once."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from studio.requests import MemberRequest
from studio.web import is_part, render_part
from tunes import selectors
from tunes.access import editor_required, signed_in_required
from tunes.forms import AreaForm
from tunes.harmony.analysis.key_areas.names import readable_key
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.pitch.spelling import Key
from tunes.heard import NotThisChord, read_function
from tunes.models import AreaOverride, ChartRevision, LabelOverride
from tunes.same_place import every_run, sounds_again
from tunes.services import overrules as services
from tunes.study import StudyChart
from tunes.views.charts import event_context, event_form, revision_for_study
from tunes.views.sheet import sheet_context


@require_POST
@editor_required
def overrule(request: MemberRequest, revision: int, event: int) -> HttpResponse:
    """Set the instructor's reading of one chord beside the computed one."""
    found = revision_for_study(revision)
    context = event_context(request, found, event)
    form = event_form(context, request.POST)
    if form.is_valid():
        study: StudyChart = context["study"]
        data = form.cleaned_data
        try:
            key, function = read_function(
                data["reading"], Key.parse(data["key"]), study.events[event].symbol, study.computed.readings[event]
            )
        except NotThisChord as problem:
            form.add_error("reading", str(problem))
        else:
            services.overrule(
                revision=found,
                event=event,
                key=readable_key(key.transposed(-study.interval)),
                function=function,
                why=data["why"].strip(),
                by=request.user,
                every_time=form.every_time,
            )
            bars = bar_count(study.chart).names_at(context["times"] if form.every_time else (event,))
            return _redrawn(
                request, revision, event, f"Overruled in {bars}. Your reading is what quizzes use from now on."
            )
    return render_part(request, "tunes/event.html", "tunes/_event.html", context | {"form": form}, status=422)


def _redrawn(request: HttpRequest, revision: int, event: int, said: str) -> HttpResponse:
    """The panel and the chart as they are now; for a plain request, back to the chart."""
    found = revision_for_study(revision)
    if not is_part(request):
        messages.success(request, said)
        return redirect("tunes:event", revision, event)
    context = event_context(request, found, event) | sheet_context(request, found)
    context |= {"form": event_form(context), "said": said, "redraw": True}
    return render(request, "tunes/_event_and_chart.html", context)


def _area_context(request: HttpRequest, revision: ChartRevision, event: int) -> dict[str, Any]:
    context = event_context(request, revision, event)
    study: StudyChart = context["study"]
    area = study.area_of(event)
    if area is None:
        raise Http404("No key area there.")
    held = [row for row in study.overridden_areas if row.first <= area.last and area.first <= row.last]
    count = bar_count(study.chart)
    return context | {
        "area": area,
        "first": study.events[area.first],
        "last": study.events[area.last],
        "place_words": count.stretch_at(area.first, area.last),
        "held_areas": held,
        "withdrawn_areas": selectors.withdrawn_areas(revision, area.first, area.last) if context["may_edit"] else (),
        "chords": [(e.index, count.name_at(e.index), e.symbol) for e in study.events],
        "sounds_again": sounds_again(study.chart, study.computed),
    }


@require_safe
@signed_in_required
def area_panel(request: HttpRequest, revision: int, event: int) -> HttpResponse:
    """The key area around one chord, and why."""
    context = _area_context(request, revision_for_study(revision), event)
    form = _area_form(context)
    return render_part(request, "tunes/event.html", "tunes/_area.html", context | {"form": form, "part": "area"})


@require_POST
@editor_required
def overrule_area(request: MemberRequest, revision: int, event: int) -> HttpResponse:
    """Set the instructor's key for a run of chords."""
    found = revision_for_study(revision)
    context = _area_context(request, found, event)
    study: StudyChart = context["study"]
    form = _area_form(context, request.POST)
    if form.is_valid():
        first, last = form.cleaned_data["first"], form.cleaned_data["last"]
        if first > last or last >= len(study.events):
            form.add_error("last", "A key area ends where it starts or later.")
        else:
            key = readable_key(Key.parse(form.cleaned_data["key"]).transposed(-study.interval))
            services.overrule_area(
                revision=found,
                first=first,
                last=last,
                key=key,
                why=form.cleaned_data["why"].strip(),
                by=request.user,
                every_time=form.every_time,
            )
            runs = every_run(study.chart, study.computed, first, last) if form.every_time else ((first, last),)
            bars = bar_count(study.chart).names_at(event for run in runs for event in range(run[0], run[1] + 1))
            return _area_redrawn(request, revision, first, f"In {study_key(form)} now: {bars}.")
    template = "tunes/_area.html"
    return render_part(request, "tunes/event.html", template, context | {"form": form, "part": "area"}, status=422)


def _area_form(context: dict[str, Any], data: Any = None) -> AreaForm:
    area = context["area"]
    return AreaForm(
        data,
        initial={"first": area.first, "last": area.last, "key": area.key.text},
        others="each time these bars sound" if context["sounds_again"] else "",
    )


def study_key(form: AreaForm) -> str:
    return Key.parse(form.cleaned_data["key"]).display


def _area_redrawn(request: HttpRequest, revision: int, event: int, said: str) -> HttpResponse:
    found = revision_for_study(revision)
    if not is_part(request):
        messages.success(request, said)
        return redirect("tunes:area", revision, event)
    context = _area_context(request, found, event) | sheet_context(request, found)
    context |= {"form": _area_form(context), "said": said, "part": "area", "redraw": True}
    return render(request, "tunes/_event_and_chart.html", context)


@require_POST
@editor_required
def withdraw_label(request: MemberRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(LabelOverride, pk=pk)
    services.withdraw_overrule(row=row, by=request.user)
    return _redrawn(request, row.revision_id, row.event, "Withdrawn: the computed reading counts again.")


@require_POST
@editor_required
def restore_label(request: MemberRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(LabelOverride, pk=pk)
    services.restore_overrule(row=row, by=request.user)
    return _redrawn(request, row.revision_id, row.event, "The overrule stands again.")


@require_POST
@editor_required
def withdraw_area(request: MemberRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(AreaOverride, pk=pk)
    services.withdraw_overrule(row=row, by=request.user)
    return _area_redrawn(request, row.revision_id, row.first, "Withdrawn: the computed keys count again.")


@require_POST
@editor_required
def restore_area(request: MemberRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(AreaOverride, pk=pk)
    services.restore_overrule(row=row, by=request.user)
    return _area_redrawn(request, row.revision_id, row.first, "The overrule stands again.")
