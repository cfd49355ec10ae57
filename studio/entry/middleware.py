"""Who is signed in too long is signed out; who needs a second factor and has none reaches the page where it is set up.

Calls with a token and calendar addresses carry no sign-in: nothing here touches them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from studio.entry import factor, school, sessions

# What somebody reaches who has to set up a second factor first: the pages of it, and the way out.
OPEN = {
    "account_logout",
    "account_reauthenticate",
    "mfa_index",
    "mfa_activate_totp",
    "mfa_add_webauthn",
    "mfa_view_recovery_codes",
    "mfa_reauthenticate",
    "mfa_reauthenticate_webauthn",
    "studio:theme",
}
# What asks for no sign-in, whoever is signed in; so does what works without the database, where no programme is set.
WITHOUT_SIGN_IN = {"api:calendar"}


def counts_elsewhere(request: HttpRequest) -> bool:
    """Whether the school has asked for a second factor at this sign-in: it says so, or the director takes its word."""
    came = request.session.get("school")
    if not came:
        return False
    return bool(came["factor"]) or school.rule(request.programme.sign_in_rules).counts  # type: ignore[attr-defined]


class EntryMiddleware:
    """Stands behind the one that sets `request.programme`."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> HttpResponse | None:
        name = request.resolver_match.view_name if request.resolver_match else ""
        if not hasattr(request, "programme") or hasattr(view, "cls") or name in WITHOUT_SIGN_IN:
            return None
        if not request.user.is_authenticated:
            return None
        if sessions.is_over(request):
            logout(request)
            messages.info(request, "You were signed in as long as the programme allows. Sign in again.")
            return None
        sessions.note(request)
        return self._factor(request, name)

    def _factor(self, request: HttpRequest, name: str) -> HttpResponse | None:
        due = None
        if not counts_elsewhere(request):
            due = factor.due(request.user, request.programme)  # type: ignore[arg-type, attr-defined]
        request.factor_due = due  # type: ignore[attr-defined]
        request.factor_overdue = overdue = due is not None and due <= timezone.now()  # type: ignore[attr-defined]
        if not overdue or name in OPEN:
            return None
        if request.method in ("GET", "HEAD") and not request.headers.get("HX-Request"):
            return redirect("mfa_index")
        words = {
            "heading": "Set up your second factor first",
            "advice": "Your role needs one. Until it is set up, nothing else can be opened or saved.",
            "url": reverse("mfa_index"),
            "link": "Set it up",
        }
        return render(request, "studio/error.html", words, status=403)
