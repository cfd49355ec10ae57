"""What may be kept on a device to be read without a connection. The one place that decides it.

A page may when it belongs to the person alone or to everybody, holds no answer that is still to come, and nobody else's work: the
plan of today, a tune with its chart, a drill, a line, the band and its choruses. Everything else (quizzes, steps, review, ledger,
people) is never kept. The service worker keeps only answers that carry the header, under the person it names, and forgets all
of it at sign-out.
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

HEADER = "Offline-Copy"
MAY_BE_KEPT = frozenset({"work:desk", "tunes:tune", "drills:drill", "drills:line", "drills:band", "drills:band_chorus"})


class OfflineCopyMiddleware:
    """Marks the pages that may be kept with whose they are; a refusal, a part and a page in which a form was answered are not."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        match = request.resolver_match
        if (
            match is not None
            and match.view_name in MAY_BE_KEPT
            and request.method == "GET"
            and response.status_code == 200
            and not response.streaming
            and "HX-Request" not in request.headers
            and request.user.is_authenticated
        ):
            response.headers[HEADER] = str(request.user.pk)
        return response
