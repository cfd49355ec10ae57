"""One's own account."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from studio.forms import AccountForm
from studio.models import Membership
from studio.requests import MemberRequest


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def account(request: MemberRequest) -> HttpResponse:
    """Name, instrument, theme, letters; and the chairs one has."""
    form = AccountForm(request.POST or None, instance=request.user)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Saved.")
        return redirect("studio:account")
    if form.errors:
        request.user.refresh_from_db()  # the header shows the saved name, not the refused one
    chairs = Membership.objects.filter(user=request.user).select_related("ensemble__term", "user")
    context = {"form": form, "chairs": chairs.order_by("-ensemble__term__starts", "ensemble__name")}
    return render(request, "studio/account.html", context, status=422 if form.errors else 200)
