"""The list of tunes, one tune, its facts and its recordings."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import ProtectedError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from studio.access import can_edit_repertoire
from studio.requests import MemberRequest
from studio.web import paginate, render_part
from tunes import selectors
from tunes.access import editor_required, signed_in_required, unnamed_forms
from tunes.forms import TuneForm
from tunes.models import Tune
from tunes.services import tunes as services
from tunes.views.posted import posted
from tunes.views.sheet import keep_show, sheet_context

STATES = (
    ("checked", "with a checked chart"),
    ("unchecked", "chart not yet checked"),
    ("no-chart", "without a chart"),
    ("lyrics", "with lyrics"),
)


@require_safe
@signed_in_required
def index(request: HttpRequest) -> HttpResponse:
    asked = request.GET
    chosen = selectors.TuneFilter(
        words=asked.get("q", "")[:100].strip(),
        form=asked.get("form", ""),
        key=asked.get("key", ""),
        metre=asked.get("metre", ""),
        state=asked.get("state", ""),
    )
    page = paginate(request, selectors.tunes(selectors.as_seen_by(request.user, chosen)))
    context = {
        "page": page,
        "form_held": unnamed_forms(request.user, [tune.pk for tune in page]),
        "chosen": chosen,
        "choices": selectors.filter_choices(),
        "states": STATES,
        "narrowed": chosen != selectors.TuneFilter(),
        "may_edit": can_edit_repertoire(request.user),
    }
    return render_part(request, "tunes/index.html", "tunes/_list.html", context)


@require_safe
@signed_in_required
def tune_page(request: MemberRequest, pk: int) -> HttpResponse:
    """Facts, the agreed chart, recordings, versions."""
    tune, revision = selectors.tune_with_chart(pk)
    if tune is None:
        raise Http404("No such tune.")
    context = {"tune": tune, "may_edit": can_edit_repertoire(request.user)}
    if context["may_edit"]:
        context["drafts"] = selectors.drafts_of(request.user, tune)
    context["reference"] = selectors.reference_recording(tune)
    context["own_notes"] = selectors.own_notes(request.user, tune)
    if revision is not None:
        context = sheet_context(request, revision) | context
    else:
        context["form_held"] = unnamed_forms(request.user, [tune]).get(tune.pk, "")
    return keep_show(request, render_part(request, "tunes/tune.html", "tunes/_sheet.html", context))


@require_http_methods(["GET", "HEAD", "POST"])
@editor_required
def tune_new(request: MemberRequest) -> HttpResponse:
    form = TuneForm(posted(request))
    if request.method == "POST" and form.is_valid():
        tune = services.create_tune(by=request.user, **form.cleaned_data)
        messages.success(request, f"{tune.title} is in the repertoire. Next: its recordings and its chart.")
        return redirect("tunes:tune", tune.pk)
    return render(request, "tunes/tune_form.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@editor_required
def tune_edit(request: HttpRequest, pk: int) -> HttpResponse:
    tune = get_object_or_404(Tune, pk=pk)
    form = TuneForm(posted(request), instance=tune)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Saved.")
        return redirect("tunes:tune", tune.pk)
    title = Tune.objects.only("title").get(pk=pk).title if form.errors else tune.title
    context = {"form": form, "tune": tune, "title_now": title}
    return render(request, "tunes/tune_form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@editor_required
def tune_delete(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a tune out of the repertoire; one that work was assigned on stays."""
    tune = get_object_or_404(Tune, pk=pk)
    if request.method == "POST":
        try:
            services.delete_tune(tune=tune)
        except ProtectedError:
            messages.error(request, f"{tune.title} stays: players have been assigned work on it.")
            return redirect("tunes:tune", pk)
        messages.success(request, f"{tune.title} was taken out of the repertoire.")
        return redirect("tunes:index")
    counts = {"versions": tune.versions.count(), "recordings": tune.recordings.count()}
    return render(request, "tunes/tune_delete.html", {"tune": tune, "counts": counts})
