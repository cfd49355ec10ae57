"""The set-up page of an empty site."""

from __future__ import annotations

from django.contrib.auth import login
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from studio.forms import SetupForm
from studio.models import SetupLink, User
from studio.services.setup import SetupError, set_up

BACKEND = "allauth.account.auth_backends.AuthenticationBackend"


@require_http_methods(["GET", "HEAD", "POST"])
def setup(request: HttpRequest, token: str) -> HttpResponse:
    """Make the programme and its first director; the link works once, and only while there is no director."""
    link_holds = SetupLink.objects.filter(token=token).exists()
    if not link_holds or User.objects.filter(is_director=True).exists():
        raise Http404
    form = SetupForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            director = set_up(token=token, **form.cleaned_data)
        except SetupError as error:
            raise Http404 from error
        login(request, director, backend=BACKEND)
        return redirect("studio:terms")
    return render(request, "studio/setup.html", {"form": form}, status=422 if form.errors else 200)
