"""Pages of bar checks. Every member may say what they hear; instructors settle disputes."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from studio.access import can_edit_repertoire
from studio.web import paginate
from tunes.access import editor_required, refuse_held_chords
from tunes.by_ear.selectors import heard_by_others
from tunes.checks import services
from tunes.checks.forms import RestForm, SettleForm, WordForm
from tunes.checks.selectors import disputes_seen
from tunes.checks.state import all_agreed, bar_states
from tunes.harmony.charts import Chart
from tunes.harmony.charts.bar_count import bar_count
from tunes.models import BarCheck, ChartRevision
from tunes.selectors import newest_number
from tunes.services.charts import what_stayed_behind
from tunes.study import ChartUnreadable, chart_of


def _revision(request: HttpRequest, pk: int) -> ChartRevision:
    """The revision; 403 while its chords are held back from this person, because every bar is shown."""
    found = get_object_or_404(ChartRevision.objects.select_related("version__tune", "source_recording"), pk=pk)
    refuse_held_chords(request.user, found.version.tune_id)
    return found


def _chart(revision: ChartRevision) -> Chart:
    try:
        return chart_of(revision.text)
    except ChartUnreadable as problem:
        raise Http404(str(problem)) from problem


def _context(request: HttpRequest, revision: ChartRevision) -> dict[str, Any]:
    chart = _chart(revision)
    words = list(revision.bar_checks.select_related("by", "recording", "settled_by"))
    states = bar_states(words, services.counted_bars(chart))
    mine = {word.bar: word for word in words if word.by_id == request.user.pk}
    heard = heard_by_others(revision)
    sections: list[dict[str, Any]] = []
    for index, state in states.items():
        bar = chart.bars[index]
        if not sections or sections[-1]["index"] != bar.section:
            sections.append({"index": bar.section, "label": chart.sections[bar.section].label, "bars": []})
        sections[-1]["bars"].append(
            {"index": index, "bar": bar, "state": state, "mine": mine.get(index), "heard": heard.get(index, [])}
        )
    recordings = list(revision.version.tune.recordings.all())
    return {
        "revision": revision, "version": revision.version, "tune": revision.version.tune, "sections": sections, "count": bar_count(chart),
        "recordings": recordings, "newest": newest_number(revision.version), "complete": all_agreed(states),
        "open_bars": sum(1 for state in states.values() if state.name == "open"),
        "disputed_bars": sum(1 for state in states.values() if state.name == "disputed"),
        "total": len(states), "may_edit": can_edit_repertoire(request.user),
        "chosen": revision.source_recording_id or next((r.pk for r in recordings if r.is_reference), None),
    }  # fmt: skip


@require_safe
@login_required
def check_page(request: HttpRequest, revision: int) -> HttpResponse:
    """Every bar with who checked it against what, and one's own word on it."""
    return render(request, "tunes/versions/check.html", _context(request, _revision(request, revision)))


@require_POST
@login_required
def say(request: HttpRequest, revision: int, bar: int) -> HttpResponse:
    """One's word on one bar."""
    found = _revision(request, revision)
    if bar not in services.counted_bars(_chart(found)):
        raise Http404("There is no such bar.")
    form = WordForm(request.POST, tune=found.version.tune)
    if not form.is_valid():
        problem = " ".join(str(message) for errors in form.errors.values() for message in errors)
        context = _context(request, found) | {"problem_bar": bar, "problem": problem, "typed": request.POST}
        return render(request, "tunes/versions/check.html", context, status=422)
    services.say(revision=found, bar=bar, by=request.user, **form.cleaned_data)  # type: ignore[arg-type]
    return redirect(f"{request.path.rsplit('/', 2)[0]}/#bar-{bar}")


@require_POST
@login_required
def rest(request: HttpRequest, revision: int) -> HttpResponse:
    """Agree to everything nobody has spoken about."""
    found = _revision(request, revision)
    _chart(found)
    form = RestForm(request.POST, tune=found.version.tune)
    recording = form.cleaned_data["recording"] if form.is_valid() else None
    count = services.agree_to_rest(revision=found, by=request.user, recording=recording)  # type: ignore[arg-type]
    messages.success(request, f"You agreed to {count} bar{'' if count == 1 else 's'}.")
    return redirect("tunes:check", revision)


@require_POST
@login_required
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take one's own word back; nobody else's exists here."""
    found = get_object_or_404(BarCheck.objects.select_related("by"), pk=pk, by=request.user)
    services.withdraw(check=found)
    return redirect("tunes:check", found.revision_id)


@require_safe
@editor_required
def disputes(request: HttpRequest) -> HttpResponse:
    """Every open dispute of the newest revisions, oldest first."""
    return _disputes(request)


def _disputes(request: HttpRequest, status: int = 200, **extra: Any) -> HttpResponse:
    page = paginate(request, disputes_seen(request.user))
    for row in page.object_list:
        chart = _chart(row.revision)
        row.written = chart.bars[row.bar] if row.bar < len(chart.bars) else None
        row.bar_named = bar_count(chart).drawn_name(row.bar) if row.written else ""
    return render(request, "tunes/versions/disputes.html", {"page": page} | extra, status=status)


@require_POST
@editor_required
def settle(request: HttpRequest, pk: int) -> HttpResponse:
    """Decide one dispute; a changed bar makes a new revision."""
    found = get_object_or_404(
        BarCheck.objects.select_related("revision__version", "recording"), pk=pk, state="disputed", settled=None
    )
    refuse_held_chords(request.user, found.revision.version.tune_id)
    form = SettleForm(request.POST)
    problem = ""
    if form.is_valid():
        data = form.cleaned_data
        chords = data["chords"] if data["decision"] == "change" else ""
        try:
            made = services.settle(check=found, by=request.user, chords=chords, note=data["note"])  # type: ignore[arg-type]
        except services.CannotSettle as error:
            problem = str(error)
        else:
            said = f"Settled: revision {made.number} is the chart now." if chords else "Settled: the chart stands."
            messages.success(request, said)
            if made.left_behind:
                messages.warning(request, what_stayed_behind(made))
            return redirect("tunes:disputes")
    else:
        problem = " ".join(str(message) for errors in form.errors.values() for message in errors)
    return _disputes(request, 422, problem_row=found.pk, problem=problem, typed=request.POST)
