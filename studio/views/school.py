"""The director's page about the school's own sign-in: who may come, and which claims give which role."""

from __future__ import annotations

from allauth.socialaccount.models import SocialAccount
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from studio.access import director_required
from studio.entry import school_rules
from studio.entry.forms import ClaimRuleForm, SchoolRuleForm
from studio.entry.school import rule
from studio.models import ClaimRule, Programme, User
from studio.web import paginate


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def school_page(request: HttpRequest) -> HttpResponse:
    """What is decided, and the table of claims with a row to be added."""
    kept = rule(Programme.current().sign_in_rules)
    adding = request.method == "POST" and "claim" in request.POST
    deciding = request.method == "POST" and not adding
    tied = SocialAccount.objects.filter(user=request.user.pk).exists()
    form = SchoolRuleForm(request.POST if deciding else None, initial=vars(kept), tied=tied)
    row = ClaimRuleForm(request.POST if adding else None)
    if deciding and form.is_valid():
        school_rules.decide(asked=form.cleaned_data, by=request.user)  # type: ignore[arg-type]
        messages.success(request, "Saved.")
        return redirect("studio:school")
    if adding and row.is_valid():
        school_rules.add_claim(row=row.save(commit=False), by=request.user)  # type: ignore[arg-type]
        messages.success(request, "Added. It holds from the next sign-in of each person.")
        return redirect("studio:school")
    context = {
        "school": settings.SCHOOL_SIGN_IN,
        "back": request.build_absolute_uri(reverse("school_callback")),
        "form": form,
        "row": row,
        "page": paginate(request, ClaimRule.objects.select_related("ensemble__term")),
    }
    return render(request, "studio/school.html", context, status=422 if form.errors or row.errors else 200)


@require_POST
@director_required
def remove_claim(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a row out of the table."""
    school_rules.remove_claim(row=get_object_or_404(ClaimRule, pk=pk), by=request.user)  # type: ignore[arg-type]
    messages.success(request, "Removed. What it gave goes at the next sign-in of each person.")
    return redirect("studio:school")


@require_POST
@director_required
def untie(request: HttpRequest, pk: int) -> HttpResponse:
    """Let another account of the school open this person's."""
    person = get_object_or_404(User, pk=pk, erased=None)
    school_rules.untie(user=person, by=request.user)  # type: ignore[arg-type]
    messages.success(request, "Untied. The next sign-in by the school ties it anew.")
    return redirect("studio:person", pk=pk)
