"""Naming a progression by choosing bars on a chart."""

from __future__ import annotations

from typing import Any
from urllib.parse import parse_qsl

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from studio.access import can_edit_repertoire
from studio.web import render_part
from tunes import naming, selectors
from tunes.access import refuse_among, signed_in_required
from tunes.drawing import draw_study
from tunes.forms import IdiomForm
from tunes.harmony.progressions.chosen import NotAPattern
from tunes.models import ChartRevision, Idiom
from tunes.pitch import pitch_label, read_sight, seen
from tunes.repertoire import Agreed
from tunes.services import proposals
from tunes.services import tunes as services
from tunes.study import ChartUnreadable, StudyChart, study_chart
from tunes.views.charts import revision_for_study
from tunes.views.sheet import shown_concert


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in_required
def page(request: HttpRequest, revision: int) -> HttpResponse:
    """The chart with its bars to choose, what they make, where else it comes; who edits the repertoire names it, who plays proposes."""
    found = revision_for_study(revision)
    agreed = selectors.agreed_stamps()
    reason, hidden = refuse_among(request.user, found.version.tune, agreed[1].values())
    if reason:
        raise PermissionDenied("The functions of this tune are held back until your quiz on it is handed in.")
    may_edit = can_edit_repertoire(request.user)
    may_propose = proposals.may_propose(request.user)  # type: ignore[arg-type]
    if request.method == "POST" and not (may_edit or may_propose):
        raise PermissionDenied("Directors and instructors give the names. Tell yours what the class calls it.")
    try:
        context = _context(request, found, agreed, hidden)
    except ChartUnreadable as problem:
        return render_part(request, "tunes/naming.html", "tunes/_naming.html", {"unreadable": str(problem)}, status=404)
    by = request.GET.get("by", "")
    proposed = proposals.proposed_to(request.user, request.path, by) if may_edit and by else []  # type: ignore[arg-type]
    form = IdiomForm(initial={"name": request.GET.get("name", "")[:80]} if proposed else None)
    if request.method == "POST" and proposed and request.POST.get("act") == "decline":
        return _declined(request, by)
    if request.method == "POST":
        form = _posted(request, context)
        if form.is_valid() and may_propose:
            if _proposed(request, form, context):
                return redirect(request.get_full_path())
        elif form.is_valid():
            saved = services.save_idiom(idiom=form.save(commit=False), by=request.user)  # type: ignore[arg-type]
            messages.success(request, f"“{saved.name}” has its name.")
            proposals.tell_who_proposed(
                leader=request.user,  # type: ignore[arg-type]
                path=request.path,
                by=by,
                name=saved.name,
                url=reverse("tunes:idiom", args=[saved.pk]),
            )
            return redirect("tunes:idiom", saved.pk)
    context |= {"form": form, "may_edit": may_edit, "may_propose": may_propose, "proposed": proposed}
    context["said_so"] = next((row for row in proposed if row.url == request.get_full_path()), None)
    status = 422 if form.is_bound else 200
    return render_part(request, "tunes/naming.html", "tunes/_naming.html", context, status=status)


def _declined(request: HttpRequest, by: str) -> HttpResponse:
    """The player hears that the name was not taken up; the page stays where it is."""
    name = proposals.decline(
        leader=request.user,  # type: ignore[arg-type]
        path=request.path,
        by=by,
        address=request.get_full_path(),
        why=request.POST.get("notes", "").strip()[:160],
    )
    if name:
        messages.success(request, f"“{name}” is not taken up; the player is told.")
    else:
        messages.info(request, "Nothing waits here to be answered.")
    return redirect(request.path)


def _posted(request: HttpRequest, context: dict[str, Any]) -> IdiomForm:
    """The name for what is chosen by the address; refused in words when nothing is."""
    made: naming.Chosen | None = context.get("made")
    data = request.POST.copy()
    data["pattern"] = made.pattern if made else ""
    form = IdiomForm(data, instance=Idiom())
    if made is None:
        form.add_error("name", "Choose the bars first: press the first one on the chart, then the last.")
    return form


def _proposed(request: HttpRequest, form: IdiomForm, context: dict[str, Any]) -> bool:
    """Tell the player's instructors of a name for what is chosen; the reason stands at the field when that cannot be."""
    try:
        proposals.propose(
            by=request.user,  # type: ignore[arg-type]
            name=form.cleaned_data["name"],
            where=context["made"].where,
            title=context["tune"].title,
            path=request.path,
            query=request.GET,
        )
    except proposals.CannotPropose as problem:
        form.add_error("name", str(problem))
        return False
    messages.success(request, "Proposed. Your instructors read it among their notices; whoever agrees gives the name.")
    return True


def _context(request: HttpRequest, revision: ChartRevision, agreed: Agreed, hidden: set[int]) -> dict[str, Any]:
    sight = read_sight(request.GET, request.user)
    concert = study_chart(revision)
    study = seen(concert, sight)
    events = naming.chosen_events(request.GET, study)
    context: dict[str, Any] = {
        "revision": revision,
        "tune": revision.version.tune,
        "pitch": pitch_label(study, sight, shown_concert(concert, sight).key),
        "words": sight.words,
        "sight_fields": parse_qsl(sight.query()),
        "sight_query": sight.query(),
        "chosen_events": events,
        "ends": naming.ends_of(request.GET, study, events),
        "chart": draw_study(study, written_out=True, analysed=False, extras=_marks(study, events)),
    }
    if not events:
        return context
    library = naming.library_for(revision, agreed, hidden, request.GET)
    try:
        return context | {"made": naming.make(request.GET, study, events, library), "held": len(hidden)}
    except NotAPattern as problem:
        return context | {"problem": str(problem)}


def _marks(study: StudyChart, events: tuple[int, ...]) -> dict[int, dict[str, Any]]:
    """What stands under each chord: its function, and whether it is chosen."""
    return {
        reading.event: {"function": reading.function, "chosen": reading.event in events}
        for reading in study.analysis.readings
    }
