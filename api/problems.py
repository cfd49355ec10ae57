"""Refusals as problem documents (RFC 9457): one shape, stable codes, for addresses that are none too."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import JsonResponse
from rest_framework import serializers

PROBLEM_JSON = "application/problem+json"


@dataclass(frozen=True)
class Kind:
    """One row: the code that programs compare, and its title for people. Codes never change within v1."""

    code: str
    title: str


PROBLEMS: dict[int, Kind] = {
    400: Kind("invalid", "The call holds a field or a filter that it cannot take"),
    401: Kind("no-token", "There is no working token"),
    403: Kind("not-permitted", "The token or its owner may not do this"),
    404: Kind("not-found", "There is no such thing, or it is not yours to see"),
    405: Kind("wrong-method", "This address takes other methods"),
    409: Kind("conflict", "Somebody else was first, or the state of the object does not allow it now"),
    412: Kind("changed", "The object is not any more what `If-Match` names"),
    413: Kind("too-large", "The body is too large"),
    415: Kind("wrong-media-type", "This call takes another kind of body"),
    422: Kind("unreadable", "A text cannot be read, or a rule forbids it"),
    429: Kind("too-fast", "Calls come too fast"),
    500: Kind("fault", "The site made an error"),
    503: Kind("away", "The site cannot reach its data just now"),
    507: Kind("disk-full", "The site's disk is full"),
}


class BlameSerializer(serializers.Serializer):
    field = serializers.CharField(help_text="Path into the body or name of the filter; empty for the whole")
    detail = serializers.CharField()


class RefusalSerializer(serializers.Serializer):
    """A refusal."""

    type = serializers.CharField(help_text="`urn:topform:problem:` and the code")
    code = serializers.ChoiceField(sorted({row.code for row in PROBLEMS.values()}), help_text="Stable within v1")
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField(help_text="For people; may change")
    errors = BlameSerializer(many=True, help_text="Which fields, and why; empty where no field is to blame")  # type: ignore[assignment]
    problems = serializers.ListField(
        child=serializers.DictField(),
        required=False,
        help_text="Where a chart cannot be read, and what to write instead",
    )


def problem(status: int, detail: str = "", errors: list[dict[str, str]] | None = None, **more: Any) -> dict[str, Any]:
    """The body of a refusal."""
    row = PROBLEMS.get(status, PROBLEMS[400] if status < 500 else PROBLEMS[500])
    return {
        "type": f"urn:topform:problem:{row.code}",
        "code": row.code,
        "title": row.title,
        "status": status,
        "detail": detail or f"{row.title}.",
        "errors": errors or [],
        **more,
    }


def field_errors(data: Any, path: str = "") -> list[dict[str, str]]:
    """What a serializer says about a body, nested as the body is, as one flat list of field and sentence."""
    if isinstance(data, dict):
        found = []
        for name, value in data.items():
            here = "" if name == "non_field_errors" else str(name)
            found += field_errors(value, ".".join(filter(None, (path, here))))
        return found
    if isinstance(data, list):
        if all(isinstance(one, str) for one in data):
            return [{"field": path, "detail": str(one)} for one in data]
        found = []
        for place, value in enumerate(data):
            found += field_errors(value, f"{path}.{place}" if path else str(place))
        return found
    return [{"field": path, "detail": str(data)}]


def answer(status: int, detail: str = "") -> JsonResponse:
    """A refusal outside the calls: an address that is none, a fault of the machine."""
    return JsonResponse(problem(status, detail), status=status, content_type=PROBLEM_JSON)
