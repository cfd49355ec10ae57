"""One chart version: its sheet, why each label is what it is, and what the instructor says instead."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST, require_safe

from studio.access import can_edit_repertoire
from studio.requests import MemberRequest
from studio.web import paginate, render_part
from tunes import selectors
from tunes.access import editor_required, refuse_held_chords, signed_in_required
from tunes.after_overrule import old_keys
from tunes.engine import RULES
from tunes.forms import OverruleForm
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.charts.bars import next_chord
from tunes.models import ChartRevision, ChartVersion
from tunes.pitch import read_sight, seen
from tunes.same_place import every_time
from tunes.services import tunes as tune_services
from tunes.study import study_chart
from tunes.views.sheet import keep_show, sheet_context


@require_safe
@signed_in_required
def version_page(request: MemberRequest, pk: int, version: int, number: int | None = None) -> HttpResponse:
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
        context["drafts"] = [
            draft for draft in selectors.drafts_of(request.user, found.tune) if draft.version_id == found.pk
        ]
    context["newest"] = selectors.newest_number(found)
    if revision is not None:
        context = sheet_context(request, revision) | context
    return keep_show(request, render_part(request, "tunes/version.html", "tunes/_sheet.html", context))


def revision_for_study(pk: int) -> ChartRevision:
    return get_object_or_404(selectors.revisions_for_study(), pk=pk)


def event_context(request: HttpRequest, revision: ChartRevision, event: int) -> dict[str, Any]:
    """What the panel of one chord says. Raises Http404 for an event that is not there, 403 while held back."""
    tune = revision.version.tune
    if refuse_held_chords(request.user, tune):
        raise PermissionDenied("The functions of this tune are held back until your quiz on it is handed in.")
    sight = read_sight(request.GET, request.user)
    study = seen(study_chart(revision), sight)
    if not 0 <= event < len(study.events):
        raise Http404("No such chord.")
    reading = study.reading(event)
    target = next_chord(study.events, event) if reading.resolution == "onward" else study.analysis.heading(event)
    at = study.events[event]
    overruled = study.overridden.get(event)
    computed = overruled.computed if overruled else reading
    times = every_time(study.chart, study.computed, event)
    count = bar_count(study.chart)
    context = {
        "revision": revision,
        "tune": tune,
        "study": study,
        "reading": reading,
        "event": at,
        "place_words": f"in {count.name_at(event)}",
        "bar_number": count.events[event],
        "times": times,
        "overruled": overruled,
        "alternatives": computed.alternatives,
        "agrees": (reading.key, reading.function.numeral) == (computed.key, computed.function.numeral),
        "patterns": computed.patterns,
        "rule": RULES.get(computed.rule),
        "landing": study.analysis.landing[event],
        "target": study.events[target] if target is not None else None,
        "target_bar": count.name_at(target) if target is not None else "",
        "sight": sight,
        "sight_query": sight.query(),
        "may_edit": can_edit_repertoire(request.user),
        "before": event - 1 if event else None,
        "after": event + 1 if event + 1 < len(study.events) else None,
    }
    if context["may_edit"]:
        context["withdrawn"] = selectors.withdrawn_overrules(revision, event)
        context["old_keys"] = old_keys(request.user, revision)
        if overruled:
            together = [
                at for at, row in study.overridden.items() if overruled.together and row.together == overruled.together
            ]
            context["overruled_bars"] = count.names_at(together) if len(together) > 1 else ""
    return context


@require_safe
@signed_in_required
def event_panel(request: HttpRequest, revision: int, event: int) -> HttpResponse:
    """Why a chord is read as it is, and how else it could be."""
    context = event_context(request, revision_for_study(revision), event)
    return render_part(
        request,
        "tunes/event.html",
        "tunes/_event.html",
        context | {"form": event_form(context, why=request.GET.get("why", "")[:400])},
    )


def event_form(context: dict[str, Any], data: Any = None, why: str = "") -> OverruleForm:
    """The form that overrules the chord of an event context, for every time its bar sounds or once. `why`: the reason that
    led here."""
    reading, study, times = context["reading"], context["study"], context["times"]
    return OverruleForm(
        data,
        initial={"key": reading.key.text, "reading": reading.function.numeral, "why": why},
        others=bar_count(study.chart).names_at(times) if len(times) > 1 else "",
    )


@require_POST
@editor_required
def agree(request: HttpRequest, pk: int, version: int) -> HttpResponse:
    """Make a version the one that the class agrees on."""
    found = get_object_or_404(ChartVersion, pk=version, tune=pk)
    tune_services.agree_on(version=found)
    messages.success(request, f"“{found.name}” is the agreed chart now.")
    return redirect("tunes:tune", pk)
