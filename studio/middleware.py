"""What happens to every request: strange addresses are turned away, the programme's time zone is set."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable
from typing import Any
from urllib.parse import unquote_to_bytes

from django.core.exceptions import BadRequest
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone

from studio import audit
from studio.form_fields import LARGEST_ID
from studio.models import Programme
from studio.security import NOTHING_OF_THE_DEVICE

WITHOUT_DATABASE = ("/livez", "/readyz", "/metrics", "/static/", "/offline-worker.js")


class OrdinaryAddressMiddleware:
    """Addresses that no page of ours has: a NUL character (400), a number that no row can have (404).

    PostgreSQL refuses both with an error, SQLite only the second; views need not think of either.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if "\x00" in request.path or b"\x00" in unquote_to_bytes(request.META.get("QUERY_STRING", "")):
            raise BadRequest("The address holds a character that no text has.")
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: dict[str, Any]) -> None:
        if any(isinstance(value, int) and value > LARGEST_ID for value in kwargs.values()):
            raise Http404


def programme_zone(name: str) -> zoneinfo.ZoneInfo:
    """The zone called `name`; UTC when the machine does not know it."""
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError):
        return zoneinfo.ZoneInfo("UTC")


class ProgrammeMiddleware:
    """Sets `request.programme` and the time zone; keeps private pages out of shared caches."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path.startswith(WITHOUT_DATABASE):
            return self.get_response(request)
        programme = Programme.current()
        request.programme = programme  # type: ignore[attr-defined]
        with timezone.override(programme_zone(programme.time_zone)), audit.acting(request):
            response = self.get_response(request)
        response.headers.setdefault("Cache-Control", "no-store, private")
        response.headers.setdefault("Permissions-Policy", NOTHING_OF_THE_DEVICE)
        return response


class EnsembleInUseMiddleware:
    """Keeps which ensemble a person looked at last in a cookie, when a view says so by `request.in_use`: the next page that
    shows one opens on it. It opens nothing: views look it up among the ensembles that the person leads."""

    COOKIE = "ensemble"

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        in_use = getattr(request, "in_use", None)
        if in_use is not None and request.COOKIES.get(self.COOKIE) != str(in_use):
            response.set_cookie(
                self.COOKIE,
                str(in_use),
                max_age=60 * 60 * 24 * 200,
                samesite="Lax",
                httponly=True,
                secure=request.is_secure(),
            )
        return response
