"""One chart version: its sheet, why each label is what it is, and what the instructor says instead."""
from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from studio.access import can_edit_repertoire
from studio.web import is_part, paginate, render_part
from tunes import selectors
from tunes.access import editor_required, refuse_held_chords, signed_in_required
from tunes.engine import RULES
from tunes.forms import AreaForm, OverruleForm
from tunes.harmony.analysis.key_areas.names import readable_key
from tunes.harmony.pitch.spelling import Key
from tunes.heard import NotThisChord, read_function
from tunes.models import AreaOverride, ChartRevision, ChartVersion, LabelOverride
from tunes.pitch import read_sight, seen
from tunes.services import charts as services
from tunes.services import tunes as tune_services
from tunes.study import StudyChart, study_chart
from tunes.views.sheet import sheet_context


@require_safe
@signed_in_required
def version_page(request: HttpRequest, pk: int, version: int, number: int | None = None) -> HttpResponse:
    """A chart version: its newest revision, or the one with that number, and its history."""
    found = get_object_or_404(ChartVersion.objects.select_related("tune"), pk=version, tune=pk)
    rows = selectors.revisions_for_study().filter(version=found)
    revision = (rows.filter(number=number) if number else rows.order_by("-number")).first()
    if number and revision is None:
        raise Http404("No such revision.")
    history = paginate(request, selectors.history(found), per_page=10)
    context: dict[str, Any] = {"version": found, "tune": found.tune, "history": history}
    context["may_edit"] = can_edit_repertoire(request.user)
    if context["may_edit"]:
        context["drafts"] = [draft for draft in selectors.drafts_of(request.user, found.tune) if draft.version_id == found.pk]
    context["newest"] = selectors.newest_number(found)
    if revision is not None:
        context = sheet_context(request, revision) | context
    return render_part(request, "tunes/version.html", "tunes/_sheet.html", context)


def _revision(pk: int) -> ChartRevision:
    return get_object_or_404(selectors.revisions_for_study(), pk=pk)


def _event_context(request: HttpRequest, revision: ChartRevision, event: int) -> dict[str, Any]:
    """What the panel of one chord says. Raises Http404 for an event that is not there, 403 while held back."""
    tune = revision.version.tune
    if refuse_held_chords(request.user, tune):
        raise PermissionDenied("The functions of this tune are held back until your quiz on it is handed in.")
    sight = read_sight(request.GET, request.user)
    study = seen(study_chart(revision), sight)
    if not 0 <= event < len(study.events):
        raise Http404("No such chord.")
    reading = study.reading(event)
    target = reading.resolves_to if reading.resolution == "onward" else study.analysis.heading(event)
    at = study.events[event]
    overruled = study.overridden.get(event)
    computed = overruled.computed if overruled else reading
    bar = study.chart.bars[at.bar]
    context = {
        "revision": revision, "tune": tune, "study": study, "reading": reading, "event": at,
        "place_words": f"in bar {bar.number}", "overruled": overruled, "alternatives": computed.alternatives,
        "agrees": (reading.key, reading.function.numeral) == (computed.key, computed.function.numeral),
        "patterns": computed.patterns, "rule": RULES.get(computed.rule), "landing": study.analysis.landing[event],
        "target": study.events[target] if target is not None else None,
        "target_bar": study.chart.bars[study.events[target].bar] if target is not None else None,
        "sight": sight, "sight_query": sight.query(), "may_edit": can_edit_repertoire(request.user),
        "before": event - 1 if event else None,
        "after": event + 1 if event + 1 < len(study.events) else None,
    }
    if context["may_edit"]:
        context["withdrawn"] = selectors.withdrawn_overrules(revision, event)
    return context


@require_safe
@signed_in_required
def event_panel(request: HttpRequest, revision: int, event: int) -> HttpResponse:
    """Why a chord is read as it is, and how else it could be."""
    context = _event_context(request, _revision(revision), event)
    reading = context["reading"]
    initial = {"key": reading.key.text, "reading": reading.function.numeral}
    return render_part(request, "tunes/event.html", "tunes/_event.html", context | {"form": OverruleForm(initial=initial)})


@require_POST
@editor_required
def overrule(request: HttpRequest, revision: int, event: int) -> HttpResponse:
    """Set the instructor's reading of one chord beside the computed one."""
    found = _revision(revision)
    context = _event_context(request, found, event)
    form = OverruleForm(request.POST)
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
                revision=found, event=event, key=readable_key(key.transposed(-study.interval)), function=function,
                why=data["why"].strip(), by=request.user,
            )
            return _redrawn(request, revision, event, "Overruled. Your reading is what quizzes use from now on.")
    return render_part(request, "tunes/event.html", "tunes/_event.html", context | {"form": form}, status=422)


def _redrawn(request: HttpRequest, revision: int, event: int, said: str) -> HttpResponse:
    """The panel and the chart as they are now; for a plain request, back to the chart."""
    found = _revision(revision)
    if not is_part(request):
        messages.success(request, said)
        return redirect("tunes:event", revision, event)
    context = _event_context(request, found, event) | sheet_context(request, found)
    reading = context["reading"]
    initial = {"key": reading.key.text, "reading": reading.function.numeral}
    context |= {"form": OverruleForm(initial=initial), "said": said, "redraw": True}
    return render(request, "tunes/_event_and_chart.html", context)


def _area_context(request: HttpRequest, revision: ChartRevision, event: int) -> dict[str, Any]:
    context = _event_context(request, revision, event)
    study: StudyChart = context["study"]
    area = study.area_of(event)
    if area is None:
        raise Http404("No key area there.")
    held = [row for row in study.overridden_areas if row.first <= area.last and area.first <= row.last]
    first, last = (study.chart.bars[study.events[at].bar].number for at in (area.first, area.last))
    return context | {
        "area": area, "first": study.events[area.first], "last": study.events[area.last],
        "place_words": f"bar {first}" if first == last else f"bar {first} to bar {last}",
        "held_areas": held,
        "withdrawn_areas": selectors.withdrawn_areas(revision, area.first, area.last) if context["may_edit"] else (),
        "chords": [(e.index, study.chart.bars[e.bar].number, e.symbol) for e in study.events],
    }


@require_safe
@signed_in_required
def area_panel(request: HttpRequest, revision: int, event: int) -> HttpResponse:
    """The key area around one chord, and why."""
    context = _area_context(request, _revision(revision), event)
    area = context["area"]
    form = AreaForm(initial={"first": area.first, "last": area.last, "key": area.key.text})
    return render_part(request, "tunes/event.html", "tunes/_area.html", context | {"form": form, "part": "area"})


@require_POST
@editor_required
def overrule_area(request: HttpRequest, revision: int, event: int) -> HttpResponse:
    """Set the instructor's key for a run of chords."""
    found = _revision(revision)
    context = _area_context(request, found, event)
    study: StudyChart = context["study"]
    form = AreaForm(request.POST)
    if form.is_valid():
        first, last = form.cleaned_data["first"], form.cleaned_data["last"]
        if first > last or last >= len(study.events):
            form.add_error("last", "A key area ends where it starts or later.")
        else:
            key = readable_key(Key.parse(form.cleaned_data["key"]).transposed(-study.interval))
            services.overrule_area(
                revision=found, first=first, last=last, key=key, why=form.cleaned_data["why"].strip(), by=request.user
            )
            return _area_redrawn(request, revision, first, f"These bars are in {study_key(form)} now.")
    template = "tunes/_area.html"
    return render_part(request, "tunes/event.html", template, context | {"form": form, "part": "area"}, status=422)


def study_key(form: AreaForm) -> str:
    return Key.parse(form.cleaned_data["key"]).display


def _area_redrawn(request: HttpRequest, revision: int, event: int, said: str) -> HttpResponse:
    found = _revision(revision)
    if not is_part(request):
        messages.success(request, said)
        return redirect("tunes:area", revision, event)
    context = _area_context(request, found, event) | sheet_context(request, found)
    area = context["area"]
    form = AreaForm(initial={"first": area.first, "last": area.last, "key": area.key.text})
    context |= {"form": form, "said": said, "part": "area", "redraw": True}
    return render(request, "tunes/_event_and_chart.html", context)


@require_POST
@editor_required
def withdraw_label(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(LabelOverride, pk=pk)
    services.withdraw_overrule(row=row, by=request.user)
    return _redrawn(request, row.revision_id, row.event, "Withdrawn: the computed reading counts again.")


@require_POST
@editor_required
def restore_label(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(LabelOverride, pk=pk)
    services.restore_overrule(row=row, by=request.user)
    return _redrawn(request, row.revision_id, row.event, "The overrule stands again.")


@require_POST
@editor_required
def withdraw_area(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(AreaOverride, pk=pk)
    services.withdraw_overrule(row=row, by=request.user)
    return _area_redrawn(request, row.revision_id, row.first, "Withdrawn: the computed keys count again.")


@require_POST
@editor_required
def restore_area(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(AreaOverride, pk=pk)
    services.restore_overrule(row=row, by=request.user)
    return _area_redrawn(request, row.revision_id, row.first, "The overrule stands again.")


@require_POST
@editor_required
def agree(request: HttpRequest, pk: int, version: int) -> HttpResponse:
    """Make a version the one that the class agrees on."""
    found = get_object_or_404(ChartVersion, pk=version, tune=pk)
    tune_services.agree_on(version=found)
    messages.success(request, f"“{found.name}” is the agreed chart now.")
    return redirect("tunes:tune", pk)
