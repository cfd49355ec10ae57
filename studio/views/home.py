"""The front door: sends each person to where their work is."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_POST, require_safe

from studio import access
from studio.web import next_url

THEMES = {"", "light", "dark"}


@require_safe
@login_required
def home(request: HttpRequest) -> HttpResponse:
    """Whoever leads an ensemble goes to what waits for review, players to their desk, the director to what needs doing."""
    user = request.user
    wanted = []
    if access.chairs(user).led:
        wanted = ["work:queue", "work:assignments"]
    elif access.chairs(user).played:
        wanted = ["work:desk"]
    elif access.is_director(user):
        wanted = ["work:overview", "studio:people"]
    for name in wanted:
        try:
            return redirect(reverse(name))
        except NoReverseMatch:
            continue
    return redirect("studio:welcome")


@require_safe
@login_required
def welcome(request: HttpRequest) -> HttpResponse:
    """For a person who has no chair yet."""
    return render(request, "studio/welcome.html")


@require_POST
def set_theme(request: HttpRequest) -> HttpResponse:
    """Light, dark or as the device; kept on the account, or in a cookie for a visitor."""
    theme = request.POST.get("theme", "")
    theme = theme if theme in THEMES else ""
    response = redirect(next_url(request))
    if request.user.is_authenticated:
        request.user.theme = theme
        request.user.save(update_fields=["theme"])
    else:
        response.set_cookie("theme", theme, max_age=60 * 60 * 24 * 365, samesite="Lax", httponly=True)
    return response
