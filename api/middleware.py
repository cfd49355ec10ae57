"""Whatever answers for an address under v1, a page's refusal too, programs read it as a problem document."""

from __future__ import annotations

import json
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase

from api import problems

ADDRESSES = "/api/v1/"


class ProblemMiddleware:
    """Outermost: addresses that are none, bodies too large, faults of the machine."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        found = self.get_response(request)
        if not request.path.startswith(ADDRESSES) or found.status_code < 400 or not isinstance(found, HttpResponse):
            return found
        if found.headers.get("Content-Type") == problems.PROBLEM_JSON:
            return found
        answer = problems.answer(found.status_code, _words(found))
        if "Retry-After" in found.headers:
            answer["Retry-After"] = found["Retry-After"]
        return answer


def _words(found: HttpResponse) -> str:
    """What a short answer of the site says in JSON; nothing of a page."""
    try:
        said = json.loads(found.content)
    except ValueError:
        return ""
    return (
        next((str(said[name]) for name in ("detail", "problem") if name in said), "") if isinstance(said, dict) else ""
    )
