"""One shape for every refusal: `{"detail": words, "problems": [...]}`; never a 500 for what a caller sent."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import DataError
from rest_framework import status
from rest_framework.exceptions import APIException
from rest_framework.response import Response
from rest_framework.views import exception_handler


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


def handle(error: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's own answers, plus the problems of an `Unreadable`, plus 400 for a value no column can hold."""
    if isinstance(error, DataError):
        return Response({"detail": "A value is too long or too large."}, status=status.HTTP_400_BAD_REQUEST)
    response = exception_handler(error, context)
    if response is not None and isinstance(error, Unreadable):
        response.data["problems"] = error.problems
    return response
