"""The director's pages of people."""

from __future__ import annotations

from allauth.socialaccount.models import SocialAccount
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from studio import selectors
from studio.access import director_required
from studio.forms import NewPersonForm, PersonForm
from studio.models import Membership, User
from studio.requests import MemberRequest
from studio.services.invitations import link
from studio.services.roles import add_person, change_person
from studio.web import paginate


@require_safe
@director_required
def people(request: HttpRequest) -> HttpResponse:
    """Everybody, searched and paged."""
    search, show = request.GET.get("q", "")[:100], request.GET.get("show", "")
    context = {
        "page": paginate(request, selectors.people(search=search, show=show)),
        "search": search,
        "show": show,
        "waiting": selectors.waiting_people().count(),
    }
    return render(request, "studio/people.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def new_person(request: MemberRequest) -> HttpResponse:
    """Add one person; the invitation is the next step, on their page."""
    form = NewPersonForm(request.POST or None, by=request.user)
    if request.method == "POST" and form.is_valid():
        user = add_person(user=form.save(commit=False), by=request.user)
        messages.success(request, f"{user.name} is in. Send the invitation when you are ready.")
        return redirect("studio:person", pk=user.pk)
    return render(request, "studio/person_new.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def person(request: MemberRequest, pk: int) -> HttpResponse:
    """One person: what may be changed, their chairs, their invitation."""
    user = get_object_or_404(User, pk=pk)
    form = PersonForm(request.POST or None, instance=user, by=request.user)
    if request.method == "POST" and form.is_valid():
        change_person(user=form.save(commit=False), by=request.user)
        messages.success(request, "Saved.")
        return redirect("studio:person", pk=pk)
    if form.errors:
        user = User.objects.get(pk=pk)
    invitation = selectors.open_invitations().filter(user=user).first()
    chairs = Membership.objects.filter(user=user).select_related("ensemble__term", "user")
    context = {
        "form": form,
        "person": user,
        "tied": SocialAccount.objects.filter(user=user).first(),
        "invitation": invitation,
        "link": link(invitation) if invitation else "",
        "page": paginate(request, chairs.order_by("-ensemble__term__starts", "ensemble__name")),
    }
    return render(request, "studio/person.html", context, status=422 if form.errors else 200)
