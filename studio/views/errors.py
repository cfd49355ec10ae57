"""Error pages in the site's own clothes."""

from __future__ import annotations

import sys

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from studio import faults


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(
        request,
        "studio/error_plain.html",
        {
            "heading": "That could not be read",
            "advice": "The address or the form holds something that no page of ours sends, or it was too large. "
            "Go back: what you typed is still there.",
        },
        status=400,
    )


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    return render(
        request,
        "studio/error_plain.html",
        {
            "heading": "The page was too old to send",
            "advice": "You have signed in or out since it was opened, or your browser keeps no cookies for this site. "
            "Go back: what you typed is still there. Copy it, load the page again, and send it from there.",
        },
        status=403,
    )


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Why not. A refusal may bring its own `heading`, `advice` and where to go on: `url` with the words `link`."""
    context = {
        "heading": "This page is for another role",
        "advice": "You are signed in, but not with the role this page needs. Ask the director if you should have it.",
    }
    own = {name: getattr(exception, name) for name in ("heading", "advice", "url", "link") if hasattr(exception, name)}
    return render(request, "studio/error.html", context | own, status=403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(
        request,
        "studio/error.html",
        {
            "heading": "Nothing here",
            "advice": "The address is wrong, or what it showed is gone or not yours to see.",
        },
        status=404,
    )


def server_error(request: HttpRequest) -> HttpResponse:
    """503 or 507 for a fault of the machine, 500 for one of the program. Django calls it while the error is being handled."""
    if answer := faults.answer(request, sys.exc_info()[1]):
        return answer
    return render(request, "studio/error_500.html", status=500)
