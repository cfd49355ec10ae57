"""The programme's own idioms: what it calls them and where each occurs across the repertoire."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.access import can_edit_repertoire
from studio.requests import MemberRequest
from studio.web import paginate
from tunes import repertoire, selectors
from tunes.access import editor_required, held_back, signed_in_required
from tunes.forms import IdiomForm
from tunes.models import Idiom
from tunes.services import tunes as services
from tunes.views.posted import posted


@require_safe
@signed_in_required
def index(request: HttpRequest) -> HttpResponse:
    """All idioms with how often each occurs."""
    page = paginate(request, selectors.idioms())
    agreed = selectors.agreed_stamps()
    held, fold = set(held_back(request.user, agreed[1].values())), request.GET.get("fold") == "yes"
    context = {
        "page": page,
        "rows": repertoire.totals(list(page), hidden=held, fold=fold, agreed=agreed),
        "may_edit": can_edit_repertoire(request.user),
        "held": len(held),
        "fold": fold,
    }
    return render(request, "tunes/idioms.html", context)


@require_safe
@signed_in_required
def page(request: HttpRequest, pk: int) -> HttpResponse:
    """One idiom: every place where it occurs, tune by tune."""
    idiom = get_object_or_404(selectors.idioms(), pk=pk)
    agreed = selectors.agreed_stamps()
    held, fold = set(held_back(request.user, agreed[1].values())), request.GET.get("fold") == "yes"
    context = {"idiom": idiom, "may_edit": can_edit_repertoire(request.user), "held": len(held), "fold": fold}
    try:
        found = repertoire.places(idiom, hidden=held, fold=fold, agreed=agreed)
    except ValueError as problem:
        return render(request, "tunes/idiom.html", context | {"problem": str(problem)})
    shown = paginate(request, found)
    context |= {"page": shown, "rows": repertoire.described(list(shown)), "places_found": len(found)}
    context["tunes_found"] = len(found.names())
    return render(request, "tunes/idiom.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@editor_required
def edit(request: MemberRequest, pk: int | None = None) -> HttpResponse:
    idiom = get_object_or_404(Idiom, pk=pk) if pk else Idiom()
    form = IdiomForm(posted(request), instance=idiom)
    if request.method == "POST" and form.is_valid():
        saved = services.save_idiom(idiom=form.save(commit=False), by=request.user)
        messages.success(request, f"“{saved.name}” saved.")
        return redirect("tunes:idiom", saved.pk)
    context = {"form": form, "idiom": idiom if idiom.pk else None}
    return render(request, "tunes/idiom_form.html", context, status=422 if form.errors else 200)


@require_POST
@editor_required
def delete(request: HttpRequest, pk: int) -> HttpResponse:
    idiom = get_object_or_404(Idiom, pk=pk)
    idiom.delete()
    messages.success(request, f"“{idiom.name}” is no longer named. The tunes keep the progression, of course.")
    return redirect("tunes:idioms")
