"""Terms, ensembles and chairs."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio import selectors
from studio.access import (
    director_required,
    ensembles_led,
    instructor_required,
    is_director,
    led_or_404,
    names_substitutes,
)
from studio.forms import ChairChangeForm, ChairForm, EnsembleForm, SubstituteForm, TermForm
from studio.models import Ensemble, Membership, Term
from studio.notices import notify
from studio.requests import MemberRequest
from studio.services import roles
from studio.web import paginate


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def terms(request: HttpRequest) -> HttpResponse:
    """All terms, and a form for a new one."""
    form = TermForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        return redirect("studio:term", pk=form.save().pk)
    context = {"form": form, "page": paginate(request, selectors.terms()), "current": selectors.current_term()}
    return render(request, "studio/terms.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def term(request: HttpRequest, pk: int) -> HttpResponse:
    """One term: its days, its ensembles, a form for another ensemble."""
    found = get_object_or_404(Term, pk=pk)
    form = TermForm(request.POST or None, instance=found)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Saved.")
        return redirect("studio:term", pk=pk)
    context = {
        "form": form,
        "term": Term.objects.get(pk=pk),
        "page": paginate(request, selectors.ensembles_of(found)),
        "ensemble_form": EnsembleForm(initial={"term": found}),
    }
    return render(request, "studio/term.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def new_ensemble(request: HttpRequest) -> HttpResponse:
    """Make an ensemble; its members come next."""
    form = EnsembleForm(request.POST or None, initial={"term": selectors.current_term()})
    if request.method == "POST" and form.is_valid():
        return redirect("studio:ensemble", pk=form.save().pk)
    return render(request, "studio/ensemble_new.html", {"form": form}, status=422 if form.errors else 200)


@require_safe
@instructor_required
def ensembles(request: HttpRequest) -> HttpResponse:
    """The ensembles that the person leads, newest term first."""
    return render(request, "studio/ensembles.html", {"page": paginate(request, ensembles_led(request.user))})


@require_safe
@instructor_required
def ensemble(request: HttpRequest, pk: int) -> HttpResponse:
    """Who sits in one ensemble; the director gives and takes chairs here."""
    found = led_or_404(request.user, pk)
    return _ensemble_page(request, found, ChairForm(ensemble=found))


def _ensemble_page(
    request: HttpRequest, found: Ensemble, form: ChairForm, sub: SubstituteForm | None = None
) -> HttpResponse:
    context = {
        "ensemble": found,
        "page": paginate(request, selectors.chairs_of(found), per_page=50),
        "form": form,
        "may_substitute": names_substitutes(request.user, found),
        "sub": sub or SubstituteForm(ensemble=found, anybody=is_director(request.user)),
    }
    return render(request, "studio/ensemble.html", context, status=422 if form.errors or (sub and sub.errors) else 200)


@require_POST
@instructor_required
def substitute(request: MemberRequest, pk: int) -> HttpResponse:
    """Let somebody lead the ensemble between two dates, or end that at once."""
    found = led_or_404(request.user, pk)
    if not names_substitutes(request.user, found):
        raise PermissionDenied
    if ending := request.POST.get("end", ""):
        rows = found.memberships.filter(role=Membership.Role.INSTRUCTOR).exclude(ends=None)
        chair = get_object_or_404(
            rows.select_related("user", "ensemble__term"),
            pk=int(ending) if ending.isdecimal() and len(ending) < 12 else 0,
        )
        roles.take_chair(chair=chair, by=request.user)
        messages.success(request, f"{chair.user} no longer leads {found}.")
        return redirect("studio:ensemble", pk=pk)
    form = SubstituteForm(request.POST, ensemble=found, anybody=is_director(request.user))
    if not form.is_valid():
        return _ensemble_page(request, found, ChairForm(ensemble=found), form)
    data = form.cleaned_data
    fields = {"role": Membership.Role.INSTRUCTOR, "begins": data["begins"], "ends": data["ends"]}
    roles.give_chair(person=data["person"], ensemble=found, by=request.user, **fields)
    notify(
        data["person"],
        "substitute",
        f"You lead {found.name} from {data['begins']:%-d %b} to {data['ends']:%-d %b %Y}.",
        reverse("work:ensemble", args=[pk]),
    )
    messages.success(request, f"{data['person']} leads {found} from {data['begins']:%-d %b} to {data['ends']:%-d %b}.")
    return redirect("studio:ensemble", pk=pk)


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def edit_ensemble(request: HttpRequest, pk: int) -> HttpResponse:
    """Name and term of an ensemble."""
    found = get_object_or_404(Ensemble, pk=pk)
    form = EnsembleForm(request.POST or None, instance=found)
    if request.method == "POST" and form.is_valid():
        form.save()
        return redirect("studio:ensemble", pk=pk)
    context = {"form": form, "ensemble": Ensemble.objects.get(pk=pk), "unused": selectors.is_unused(found)}
    return render(request, "studio/ensemble_edit.html", context, status=422 if form.errors else 200)


@require_POST
@director_required
def remove_ensemble(request: HttpRequest, pk: int) -> HttpResponse:
    """Take away an ensemble that was made by mistake: one with people or work stays, its term keeps it as history."""
    found = get_object_or_404(Ensemble, pk=pk)
    with transaction.atomic():
        unused = selectors.is_unused(found)
        if unused:
            found.delete()
    if not unused:
        messages.error(request, f"{found} has people or work. Only an ensemble in which there never was any can go.")
        return redirect("studio:ensemble_edit", pk=pk)
    messages.success(request, f"{found} is gone.")
    return redirect("studio:term", pk=found.term_id)


@require_POST
@director_required
def add_chair(request: MemberRequest, pk: int) -> HttpResponse:
    """Give a person a chair."""
    found = get_object_or_404(Ensemble.objects.select_related("term"), pk=pk)
    form = ChairForm(request.POST, ensemble=found)
    if not form.is_valid():
        return _ensemble_page(request, found, form)
    data = form.cleaned_data
    fields = {"role": data["role"], "instrument": data["instrument"], "doubles": data["doubles"]}
    roles.give_chair(person=data["person"], ensemble=found, by=request.user, **fields)
    messages.success(request, f"{data['person']} is in {found}.")
    return redirect("studio:ensemble", pk=pk)


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def change_chair(request: MemberRequest, pk: int, chair: int) -> HttpResponse:
    """Another role or instrument; what the person has done so far stays in the record."""
    found = get_object_or_404(Membership.objects.select_related("user", "ensemble__term"), pk=chair, ensemble=pk)
    form = ChairChangeForm(request.POST or None, instance=found)
    if request.method == "POST" and form.is_valid():
        roles.change_chair(chair=form.save(commit=False), by=request.user)
        messages.success(request, f"The chair of {found.user} is changed.")
        return redirect("studio:ensemble", pk=pk)
    return render(request, "studio/chair.html", {"form": form, "chair": found}, status=422 if form.errors else 200)


@require_POST
@director_required
def remove_chair(request: MemberRequest, pk: int, chair: int) -> HttpResponse:
    """Take a chair away; what the person did stays in the record, and the chair can be given back."""
    found = get_object_or_404(Membership.objects.select_related("user", "ensemble__term"), pk=chair, ensemble=pk)
    roles.take_chair(chair=found, by=request.user)
    messages.success(
        request,
        f"{found.user} has left {found.ensemble}. Their work is kept; give the chair back below if this was a slip.",
    )
    return redirect("studio:ensemble", pk=pk)
