"""The chart editor: one text box, a preview that follows, a draft that is never lost, a save that makes a revision."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from studio.access import instrument_of
from studio.instruments import CONCERT, INSTRUMENTS
from studio.requests import MemberRequest
from tunes import selectors
from tunes.access import editor_required, refuse_held_chords
from tunes.checks import services as checks
from tunes.drawing import draw_chart
from tunes.engine import name_form
from tunes.forms import RevisionForm
from tunes.harmony.charts import parse_chart
from tunes.harmony.charts.bar_count import bar_count
from tunes.models import ChartDraft, ChartRevision, ChartVersion, Tune
from tunes.services import charts as services

DISCARDED = "discarded chart text"
SIGNS = ("|", "|:", ":|", "%", "/", "b", "#", "m7", "maj7", "7", "m7b5", "dim7")  # one tap each, for phones


def _tune_and_version(request: HttpRequest, pk: int, version: int | None) -> tuple[Tune, ChartVersion | None]:
    """403 while the chords of the tune are held back from this person, because drafts hold them as well."""
    refuse_held_chords(request.user, pk)
    if version is None:
        return get_object_or_404(Tune, pk=pk), None
    found = get_object_or_404(ChartVersion.objects.select_related("tune"), pk=version, tune=pk)
    return found.tune, found


@require_http_methods(["GET", "HEAD", "POST"])
@editor_required
def edit(request: MemberRequest, pk: int, version: int | None = None) -> HttpResponse:
    """Type a chart (GET) and save it as the next revision (POST)."""
    tune, found = _tune_and_version(request, pk, version)
    if request.method == "POST":
        return _save(request, tune, found)
    draft = selectors.draft_of(request.user, tune, found)
    latest = selectors.history(found).defer(None).first() if found else None
    context = _editor_context(request, tune, found, draft, latest)
    return render(request, "tunes/editor.html", context)


def _editor_context(
    request: HttpRequest,
    tune: Tune,
    version: ChartVersion | None,
    draft: ChartDraft | None,
    latest: ChartRevision | None,
) -> dict[str, Any]:
    new = version is None and draft is None
    agreed = selectors.agreed_revision(tune) if new else None
    begun = agreed.text if agreed and request.GET.get("begin") == "agreed" else ""
    text = draft.text if draft else latest.text if latest else begun or _starting_text(tune)
    base = draft.based_on if draft else latest
    form = RevisionForm(tune=tune, version=version, initial=_initial(tune, version, latest))
    return {
        "tune": tune,
        "version": version,
        "draft": draft,
        "latest": latest,
        "text": text,
        "serial": draft.serial if draft else 0,
        "based_on": base.number if base else 0,
        "can_begin": bool(agreed) and not begun,
        "form": form,
        "overtaken": bool(draft and latest and (not base or base.number < latest.number)),
        "discarded": request.session.get(DISCARDED, {}).get(_slot(tune, version), ""),
    } | preview_context(text)


def _initial(tune: Tune, version: ChartVersion | None, latest: ChartRevision | None) -> dict[str, Any]:
    if latest is not None and version is not None:
        return {
            "name": version.name,
            "source_kind": latest.source_kind,
            "source_recording": latest.source_recording_id,
            "source_note": latest.source_note,
        }
    name = version.name if version else "as we play it"
    # What is offered can be saved as it stands: a chart by ear comes with the recording that it is taken from.
    heard = tune.recordings.order_by("-is_reference", "year", "pk").first()
    return {
        "name": name,
        "source_kind": ChartRevision.Source.BY_EAR if heard else "other",
        "source_recording": heard.pk if heard else None,
    }


def _starting_text(tune: Tune) -> str:
    """The heading that a new chart begins with."""
    lines = [f"key: {tune.key}"] if tune.key else []
    return "\n".join([*lines, f"metre: {tune.metre}", "", ""])


def preview_context(text: str) -> dict[str, Any]:
    """What the preview shows of a text: the drawing, its problems, its form."""
    text = text.replace("\r\n", "\n")
    reading = parse_chart(text)
    chart = reading.chart if reading.chart and reading.chart.bars else None
    return {
        "problems": reading.problems,
        "count": bar_count(chart) if chart else None,
        "remarks": reading.remarks,
        "chart": draw_chart(chart, problems=reading.problems) if chart else None,
        "form_named": name_form(chart) if chart else None,
        "bars": chart.form_bars if chart else 0,
        "signs_to_insert": SIGNS,
    }


def _slot(tune: Tune, version: ChartVersion | None) -> str:
    return f"{tune.pk}:{version.pk if version else 'new'}"


def _save(request: MemberRequest, tune: Tune, version: ChartVersion | None) -> HttpResponse:
    text = request.POST.get("text", "")
    form = RevisionForm(request.POST, tune=tune, version=version)
    context: dict[str, Any] = {}
    if form.is_valid():
        try:
            return _saved(request, tune, version, text, form)
        except services.ChartHasProblems as found:
            context["refused"] = (
                f"Not saved yet: {len(found.problems)} to put right below."
                if text.strip()
                else "Not saved yet: there is no chart. Type the bars between upright strokes, such as | Dm7 | G7 |."
            )
        except services.RevisionConflict as conflict:
            context["conflict"] = conflict.latest
    draft = selectors.draft_of(request.user, tune, version)
    context |= {
        "tune": tune,
        "version": version,
        "draft": draft,
        "text": text,
        "form": form,
        "serial": draft.serial if draft else 0,
        "based_on": context["conflict"].number if "conflict" in context else _number(request.POST.get("based_on")),
    } | preview_context(text)
    return render(request, "tunes/editor.html", context, status=409 if "conflict" in context else 422)


def _saved(
    request: MemberRequest, tune: Tune, version: ChartVersion | None, text: str, form: RevisionForm
) -> HttpResponse:
    revision = checks.save_and_check(
        tune=tune,
        version=version,
        text=text,
        by=request.user,
        **form.cleaned_data,
        based_on=_number(request.POST.get("based_on")) if version else None,
    )
    own = INSTRUMENTS.get(instrument_of(request.user), CONCERT)
    where = "" if own.is_concert else " It stands here in concert pitch, as you typed it."
    messages.success(request, f"Saved as revision {revision.number}.{where}")
    if revision.left_behind:
        messages.warning(request, services.what_stayed_behind(revision))
    address = reverse("tunes:version", args=[tune.pk, revision.version_id])
    return redirect(f"{address}?for={CONCERT.key}")


def _number(text: str | None) -> int:
    return int(text) if text and text.isdecimal() and len(text) < 10 else 0


@require_POST
@editor_required
def draft(request: MemberRequest, pk: int, version: int | None = None) -> HttpResponse:
    """Keep what is being typed and answer with its preview; 409 when another window wrote meanwhile.

    Headers of the answer: `X-Draft-Serial` (the draft's count of writes), `X-Draft-Time` (hour and minute).
    """
    tune, found = _tune_and_version(request, pk, version)
    text = request.POST.get("text", "").replace("\r\n", "\n")
    if len(text) > services.MAX_TEXT:
        return HttpResponse(f"A chart has room for {services.MAX_TEXT} characters.", status=413)
    base = found.revisions.filter(number=_number(request.POST.get("based_on"))).first() if found else None
    outcome = services.keep_draft(
        user=request.user,
        tune=tune,
        version=found,
        text=text,
        serial=_number(request.POST.get("serial")),
        based_on=base,
    )
    context = {"theirs": outcome.draft} if outcome.conflict else preview_context(text)
    template = "tunes/_draft_conflict.html" if outcome.conflict else "tunes/_preview.html"
    response = render(request, template, context, status=409 if outcome.conflict else 200)
    response["X-Draft-Serial"] = str(outcome.draft.serial)
    response["X-Draft-Time"] = timezone.localtime(outcome.draft.changed).strftime("%H:%M")
    return response


@require_POST
@editor_required
def discard(request: MemberRequest, pk: int, version: int | None = None) -> HttpResponse:
    """Throw the draft away; what it held can be taken back while the session lasts."""
    tune, found = _tune_and_version(request, pk, version)
    kept = selectors.draft_of(request.user, tune, found)
    if kept is None:
        raise Http404("There is no draft.")
    request.session[DISCARDED] = request.session.get(DISCARDED, {}) | {_slot(tune, found): kept.text}
    services.discard_draft(user=request.user, tune=tune, version=found)
    return redirect(*_address(tune, found))


@require_POST
@editor_required
def take_back(request: MemberRequest, pk: int, version: int | None = None) -> HttpResponse:
    """Undo a discard."""
    tune, found = _tune_and_version(request, pk, version)
    thrown = dict(request.session.get(DISCARDED, {}))
    text = thrown.pop(_slot(tune, found), None)
    if text is None:
        raise Http404("Nothing was thrown away.")
    request.session[DISCARDED] = thrown
    latest = selectors.history(found).first() if found else None
    services.keep_draft(user=request.user, tune=tune, version=found, text=text, serial=0, based_on=latest)
    return redirect(*_address(tune, found))


def _address(tune: Tune, version: ChartVersion | None) -> tuple[Any, ...]:
    return ("tunes:chart_edit", tune.pk, version.pk) if version else ("tunes:chart_new", tune.pk)
