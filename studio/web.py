"""Helpers that every app's views share: whole page or part, paging, redirects."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import wraps
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django_htmx.http import HttpResponseClientRedirect

from studio.security import MICROPHONE


def is_part(request: HttpRequest) -> bool:
    """True when htmx asks for a fragment, not a whole page."""
    htmx: Any = getattr(request, "htmx", None)
    return bool(htmx) and not htmx.boosted and not htmx.history_restore_request


def render_part(
    request: HttpRequest, page: str, part: str, context: dict[str, Any] | None = None, *, status: int = 200
) -> HttpResponse:
    """Render `part` for an htmx request, `page` (which includes the part) otherwise."""
    response = render(request, part if is_part(request) else page, context, status=status)
    response.headers["Vary"] = "HX-Request"
    return response


def with_microphone(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """A page that records: the browser may ask for the microphone there, and on no other page of the site."""

    @wraps(view)
    def answer(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        response = view(request, *args, **kwargs)
        response.headers["Permissions-Policy"] = MICROPHONE
        return response

    return answer


def paginate(
    request: HttpRequest, rows: QuerySet[Any] | Sequence[Any], per_page: int = 25, *, total: int | None = None
) -> Page[Any]:
    """The page that `?page=` asks for; the nearest one that exists if it does not. Never an error.

    `total`: how many rows there are, where that is known already; they are counted otherwise.
    """
    pages = Paginator(rows, per_page)
    if total is not None:
        pages.__dict__["count"] = total  # a cached property of the paginator
    return pages.get_page(request.GET.get("page"))


def hx_redirect(request: HttpRequest, to: Any, *args: Any, **kwargs: Any) -> HttpResponse:
    """A redirect that works for both htmx and plain requests. Arguments as for `django.shortcuts.redirect`."""
    response = redirect(to, *args, **kwargs)
    return HttpResponseClientRedirect(response.url) if is_part(request) else response


def next_url(request: HttpRequest, default: str = "/") -> str:
    """The `next` address of the request when it stays on this site, else `default`."""
    target = request.POST.get("next") or request.GET.get("next") or ""
    safe = url_has_allowed_host_and_scheme(target, {request.get_host()}, require_https=request.is_secure())
    return target if safe else default
