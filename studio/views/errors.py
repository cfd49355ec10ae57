"""Error pages in the site's own clothes."""
from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "studio/error.html", {
        "heading": "This page is for another role",
        "advice": "You are signed in, but not with the role this page needs. Ask the director if you should have it.",
    }, status=403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "studio/error.html", {
        "heading": "Nothing here",
        "advice": "The address is wrong, or what it showed is gone or not yours to see.",
    }, status=404)


def server_error(request: HttpRequest) -> HttpResponse:
    return render(request, "studio/error_500.html", status=500)
