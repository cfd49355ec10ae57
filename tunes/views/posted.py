"""What a form is bound to."""

from __future__ import annotations

from django.http import HttpRequest, QueryDict


def posted(request: HttpRequest) -> QueryDict | None:
    """The posted fields, even when there are none; None when nothing was posted."""
    return request.POST if request.method == "POST" else None
