"""Sending invitation links, and following one."""

from __future__ import annotations

from allauth.account.utils import perform_login
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio import access, mail
from studio.access import director_required
from studio.entry.only_school import switched_off
from studio.forms import AcceptForm
from studio.jobs import start_job
from studio.models import User
from studio.requests import MemberRequest
from studio.selectors import open_invitations
from studio.services.invitations import InvitationClosed, accept, find_open, invite, link, send_letter
from studio.web import paginate


@require_POST
@director_required
def invite_one(request: MemberRequest, pk: int) -> HttpResponse:
    """Make a link for one person and mail it; the page shows it too, for when mail is no use."""
    user = get_object_or_404(User, pk=pk, is_active=True)
    if not user.address:
        messages.error(request, f"{user.name} has no e-mail address yet. Type it above and save, then invite.")
        return redirect("studio:person", pk=pk)
    if send_letter(invite(user, by=request.user)):
        messages.success(request, f"The mail server took the invitation for {user.email}.")
    elif mail.goes_out():
        messages.warning(
            request, "The mail server did not take the letter. Give the link below to the person yourself."
        )
    else:
        messages.warning(
            request,
            f"No mail server is set up, so nothing was sent; the letter lies in {mail.folder()}. "
            "Give the link below to the person yourself.",
        )
    return redirect("studio:person", pk=pk)


@require_POST
@director_required
def invite_waiting(request: MemberRequest) -> HttpResponse:
    """Invite everyone who has no account yet, in the background."""
    return redirect("studio:job", pk=start_job(request.user, "invitations").pk)


@require_safe
@director_required
def open_links(request: HttpRequest) -> HttpResponse:
    """The links that still work, to be handed over where no letter reaches."""
    rows = open_invitations().filter(user__is_active=True).select_related("user").order_by("user__name", "pk")
    page = paginate(request, rows, per_page=50)
    return render(request, "studio/links.html", {"page": page, "rows": [(row, link(row)) for row in page]})


@require_http_methods(["GET", "HEAD", "POST"])
def accept_invitation(request: HttpRequest, token: str) -> HttpResponse:
    """Choose a password; signs the person in."""
    try:
        invitation = find_open(token)
        if switched_off() and invitation.invited_by_id is not None:
            return render(request, "account/only_school.html", status=403)
        form = AcceptForm(request.POST or None, user=invitation.user)
        if request.method == "POST" and form.is_valid():
            user = accept(token, password=form.cleaned_data["password"])
            chairs = access.chairs(user)
            to = reverse("studio:home" if chairs.played and not chairs.led else "studio:account")
            # Through the library's stages: a new password does not do away with a second factor.
            done: HttpResponse = perform_login(request, user, redirect_url=to)
            return done
    except InvitationClosed:
        return render(
            request,
            "studio/error.html",
            {
                "heading": "This link no longer works",
                "advice": "It has been used, is too old, or was replaced by a newer one. "
                "Sign in if you have chosen a password; otherwise ask the director for a new link.",
            },
            status=410,
        )
    context = {"form": form, "invitation": invitation}
    return render(request, "studio/accept.html", context, status=422 if form.errors else 200)
