"""The page on which a director lets a course system register itself."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import urlencode, urlsplit

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from api.campus import outward
from api.campus.lti import registering
from api.campus.lti.doors import FRAMES
from api.campus.lti.forms import RegisterForm
from api.campus.lti.pages import tell
from studio.access import director_required
from studio.models import Programme

ASKED = ("openid_configuration", "registration_token")
NAME_OF_MACHINE = re.compile(r"[A-Za-z0-9.-]+(:[0-9]+)?")


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def register(request: HttpRequest) -> HttpResponseBase:
    """Inside a frame of the course system only a button is shown, as for its links; see `doors.begin`."""
    if request.method != "POST" and request.headers.get("Sec-Fetch-Dest") in FRAMES:
        return _in_a_window(request)
    return _page(request)


def _in_a_window(request: HttpRequest) -> HttpResponse:
    asked = {name: request.GET[name][:4000] for name in ASKED if name in request.GET}
    answer = render(request, "api/lti/window.html", {"address": f"{request.path}?{urlencode(asked)}"})
    parts = urlsplit(asked.get("openid_configuration", "")) if RegisterForm(asked).is_valid() else None
    if parts and NAME_OF_MACHINE.fullmatch(parts.netloc):
        answer.xframe_options_exempt = True
        answer._csp_replace = {"frame-ancestors": [f"{parts.scheme}://{parts.netloc}"]}  # type: ignore[attr-defined]
    return answer


@director_required
def _page(request: HttpRequest) -> HttpResponse:
    """Shown first, done when the director says so: until then nothing is fetched."""
    form = RegisterForm(request.POST if request.method == "POST" else request.GET)
    if not form.is_valid():
        return _shown(request, form, status=422)
    if request.method != "POST":
        return _shown(request, form)
    addresses = {name: request.build_absolute_uri(reverse(f"api:lti-{name}")) for name in ("launch", "login", "keys")}
    try:
        offer = registering.read_offer(form.cleaned_data["openid_configuration"])
        row = registering.register(
            offer,
            token=form.cleaned_data["registration_token"],
            name=Programme.current().name,
            by=request.user,  # type: ignore[arg-type]
            **addresses,
        )
    except (registering.NotRegistered, outward.Unreachable) as why:
        return _shown(request, form, problem=str(why), status=422)
    more = "" if row.deployments else " It named no deployment id: copy that one from the course system."
    tell(request, f"{row.name} is registered.", row, f"{more} Now switch this site on in the course system.")
    return redirect("api:lti-platform", pk=row.pk)


def _shown(request: HttpRequest, form: RegisterForm, *, status: int = 200, **more: Any) -> HttpResponse:
    host = urlsplit(form.cleaned_data.get("openid_configuration", "")).hostname or ""
    return render(request, "api/lti/register.html", {"form": form, "host": host, **more}, status=status)
