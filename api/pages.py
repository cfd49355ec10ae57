"""Pages for people: their tokens, their calendar addresses, and a readable list of every call."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST, require_safe
from drf_spectacular.generators import SchemaGenerator

from api.campus import calendar
from api.forms import FeedForm, ServiceForm, TokenForm
from api.models import Feed, Token
from api.problems import PROBLEMS
from api.scopes import SCOPES
from api.tokens import end_service, make_token, revoke
from studio.access import director_required
from studio.middleware import programme_zone
from studio.models import Programme, User
from studio.requests import MemberRequest
from studio.web import paginate

METHODS = ("get", "post", "put", "patch", "delete")


@login_required
@never_cache
@require_http_methods(["GET", "POST"])
def tokens(request: MemberRequest) -> HttpResponse:
    """A person's own tokens."""
    return _tokens(request, TokenForm, request.user)


@director_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def services(request: MemberRequest) -> HttpResponse:
    """Tokens of services, for directors."""
    return _tokens(request, ServiceForm, None)


def _tokens(request: MemberRequest, asked: type[TokenForm], owner: User | None) -> HttpResponse:
    """Tokens of `owner`, or those of services. A new one is shown in the answer to the form and never again."""
    form = asked(request.POST if request.method == "POST" else None)
    key = ""
    if request.method == "POST" and form.is_valid():
        _, key = make_token(owner=owner, by=request.user, **form.cleaned_data)
        form = asked()
    rows = paginate(request, Token.objects.filter(owner=owner), per_page=20)
    status = 422 if form.is_bound and form.errors else 200
    context = {"form": form, "key": key, "rows": rows, "services": owner is None}
    return render(request, "api/tokens.html", context, status=status)


@director_required
@require_POST
def service_end(request: HttpRequest, pk: int) -> HttpResponse:
    token = get_object_or_404(Token, pk=pk, owner=None)
    if end_service(token_id=token.pk, by=request.user):  # type: ignore[arg-type]
        messages.success(request, f"The token of “{token.name}” no longer works.")
    return redirect("api:services")


@login_required
@require_POST
def revoke_token(request: MemberRequest, pk: int) -> HttpResponse:
    token = get_object_or_404(Token, pk=pk, owner=request.user)
    if revoke(token_id=token.pk, owner=request.user):
        messages.success(request, f"Token “{token.name}” no longer works.")
    return redirect("api:tokens")


@login_required
@never_cache
@require_http_methods(["GET", "POST"])
def calendars(request: HttpRequest) -> HttpResponse:
    """A person's calendar addresses. A new one is shown in the answer to the form and never again."""
    user: Any = request.user
    form = FeedForm(request.POST if request.method == "POST" else None, ensembles=calendar.choices(user))
    address = ""
    if request.method == "POST" and form.is_valid():
        key = calendar.make_feed(owner=user, ensemble=form.cleaned_data["about"])
        address = request.build_absolute_uri(reverse("api:calendar", args=[key]))
    rows = paginate(request, calendar.feeds_of(user), per_page=20)
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "api/calendars.html", {"form": form, "address": address, "rows": rows}, status=status)


@login_required
@require_POST
def end_calendar(request: HttpRequest, pk: int) -> HttpResponse:
    get_object_or_404(Feed, pk=pk, owner=request.user)
    if calendar.end_feed(feed_id=pk, owner=request.user):  # type: ignore[arg-type]
        messages.success(request, "That address no longer works.")
    return redirect("api:calendars")


@require_safe
def calendar_file(request: HttpRequest, key: str) -> HttpResponse:
    """What a calendar program reads; the address is all it needs to know."""
    feed = calendar.open_feed(key)
    if feed is None:
        raise Http404
    with timezone.override(programme_zone(Programme.current().time_zone)):
        content = calendar.calendar_of(feed, request.build_absolute_uri)
    answer = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    answer["Cache-Control"] = "private, max-age=900"
    answer["X-Robots-Tag"] = "noindex"
    return answer


@dataclass(frozen=True)
class Call:
    """One line of the readable page: a method on a path, what it does, what it takes and gives."""

    method: str
    path: str
    summary: str
    detail: str
    parameters: tuple[dict[str, Any], ...]
    takes: str
    statuses: tuple[tuple[str, str], ...]


@login_required
@require_GET
def docs(request: HttpRequest) -> HttpResponse:
    """Every call of the interface in words, made from the same schema that programs read."""
    return render(request, "api/docs.html", {"groups": _groups(), "scopes": SCOPES, "refusals": PROBLEMS})


@lru_cache(maxsize=1)
def _groups() -> tuple[tuple[str, tuple[Call, ...]], ...]:
    schema = SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
    groups: dict[str, list[Call]] = {}
    for path, item in schema["paths"].items():
        for method in METHODS:
            if method in item:
                groups.setdefault(item[method]["tags"][0], []).append(_call(method, path, item[method]))
    return tuple((name, tuple(calls)) for name, calls in groups.items())


def _call(method: str, path: str, row: dict[str, Any]) -> Call:
    summary, _, detail = row.get("description", "").partition("\n")
    content = row.get("requestBody", {}).get("content", {})
    first: dict[str, Any] = next(iter(content.values()), {})
    takes = first.get("schema", {}).get("$ref", "").rpartition("/")[2]
    return Call(
        method.upper(),
        path,
        row.get("summary") or summary,
        detail.strip(),
        tuple(row.get("parameters", ())),
        takes,
        tuple((code, answer.get("description", "")) for code, answer in row["responses"].items() if code < "300"),
    )
