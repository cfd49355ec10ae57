"""Two pages for people: their tokens, and a readable list of every call."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from drf_spectacular.generators import SchemaGenerator

from api.forms import TokenForm
from api.models import Token
from api.problems import PROBLEMS
from api.scopes import SCOPES
from api.tokens import make_token, revoke
from studio.web import paginate

METHODS = ("get", "post", "put", "patch", "delete")


@login_required
@never_cache
@require_http_methods(["GET", "POST"])
def tokens(request: HttpRequest) -> HttpResponse:
    """A person's own tokens. A new one is shown in the answer to the form and never again."""
    form = TokenForm(request.POST if request.method == "POST" else None)
    key = ""
    if request.method == "POST" and form.is_valid():
        _, key = make_token(owner=request.user, **form.cleaned_data)  # type: ignore[misc]
        form = TokenForm()
    rows = paginate(request, Token.objects.filter(owner=request.user), per_page=20)
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "api/tokens.html", {"form": form, "key": key, "rows": rows}, status=status)


@login_required
@require_POST
def revoke_token(request: HttpRequest, pk: int) -> HttpResponse:
    token = get_object_or_404(Token, pk=pk, owner=request.user)
    if revoke(token_id=token.pk, owner=request.user):
        messages.success(request, f"Token “{token.name}” no longer works.")
    return redirect("api:tokens")


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
    takes = next(iter(content.values()), {}).get("schema", {}).get("$ref", "").rpartition("/")[2]
    return Call(
        method.upper(),
        path,
        row.get("summary") or summary,
        detail.strip(),
        tuple(row.get("parameters", ())),
        takes,
        tuple((code, answer.get("description", "")) for code, answer in row["responses"].items() if code < "300"),
    )
