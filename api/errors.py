"""Every refusal is a problem document (`api.problems`); never a 500 for what a caller sent."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import DataError
from rest_framework import status
from rest_framework.exceptions import APIException, ValidationError
from rest_framework.response import Response
from rest_framework.views import exception_handler

from api.problems import PROBLEM_JSON, field_errors, problem


class Unreadable(APIException):
    """422: the body has the right shape but its text can't be used; each problem says where and what to send instead."""

    status_code = status.HTTP_422_UNPROCESSABLE_ENTITY
    default_code = "unreadable"

    def __init__(self, detail: str, problems: Sequence[dict[str, Any]] = ()) -> None:
        super().__init__(detail)
        self.problems = list(problems)


class Conflict(APIException):
    """409: somebody else was first, or the object's state does not allow it now."""

    status_code = status.HTTP_409_CONFLICT
    default_code = "conflict"


class Busy(APIException):
    """429: nothing is wrong with the call, the site has enough of its kind in hand; `wait` seconds stand in Retry-After (RFC 9110,
    10.2.3)."""

    status_code = status.HTTP_429_TOO_MANY_REQUESTS
    default_code = "too-fast"

    def __init__(self, detail: str, wait: int) -> None:
        super().__init__(detail)
        self.wait = wait


class Changed(APIException):
    """412: the object is not what the caller's `If-Match` names."""

    status_code = status.HTTP_412_PRECONDITION_FAILED
    default_code = "changed"
    default_detail = "This was changed since you read it. Read it again, then send your change."


def handle(error: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's own answers in our shape, the problems of an `Unreadable`, and 400 for a value no column can hold."""
    if isinstance(error, DataError):
        return _refusal(problem(400, "A value is too long or too large."))
    response = exception_handler(error, context)
    if response is None:
        return None
    if isinstance(error, ValidationError):
        errors = field_errors(response.data)
        first = errors[0] if errors else {"field": "", "detail": ""}
        body = problem(response.status_code, f"{first['field']}: {first['detail']}".removeprefix(": "), errors)
    else:
        more = {"problems": error.problems} if isinstance(error, Unreadable) else {}
        body = problem(response.status_code, str(response.data["detail"]), **more)
    return _refusal(body, response)


def _refusal(body: dict[str, Any], response: Response | None = None) -> Response:
    found = response or Response(status=body["status"])
    found.data = body
    found.content_type = PROBLEM_JSON
    return found
