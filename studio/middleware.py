"""Each request runs in the programme's own time zone."""
from __future__ import annotations

import zoneinfo
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from studio.models import Programme

WITHOUT_DATABASE = ("/livez", "/static/")


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
        with timezone.override(programme_zone(programme.time_zone)):
            response = self.get_response(request)
        response.headers.setdefault("Cache-Control", "no-store, private")
        return response
