"""Filters of a call: those that its description names, with values it can take; all others are refused, never ignored."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import OpenApiParameter
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.serializers import ListSerializer

PAGES = ("page", "per_page")


def taken(view: Any, method: str) -> dict[str, OpenApiParameter | None]:
    """Name of each filter → its description (None for the two of a list's pages)."""
    handler = getattr(view, method.lower(), None)
    described = getattr(handler, "kwargs", {}).get("schema", type(view.schema))()
    described.view, described.method = view, method
    found: dict[str, OpenApiParameter | None] = {
        row.name: row for row in described.get_override_parameters() if row.location == OpenApiParameter.QUERY
    }
    if method == "GET" and isinstance(described.get_response_serializers(), ListSerializer):
        found |= dict.fromkeys(PAGES)
    return found


def check(view: Any, request: Request) -> None:
    """400 that names the filter, for one that the call does not take and for a value outside its list."""
    method = "GET" if request.method == "HEAD" else str(request.method)
    if not request.query_params or method not in view.allowed_methods or method == "OPTIONS":
        return
    known, wrong = taken(view, method), {}
    for name, values in request.query_params.lists():
        if name not in known:
            takes = f"It takes: {', '.join(known)}." if known else "It takes none."
            wrong[name] = [f"This call takes no such filter. {takes}"]
        elif len(values) > 1:
            wrong[name] = ["Send this filter once."]
        elif (row := known[name]) and row.enum and values[0] not in [str(one) for one in row.enum]:
            wrong[name] = [f"This is one of: {', '.join(map(str, row.enum))}."]
    if wrong:
        raise ValidationError(wrong)
