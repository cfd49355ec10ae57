"""The gradebook as a file, of one assignment or of a whole term."""

from __future__ import annotations

from django.http import HttpRequest, StreamingHttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from studio.access import instructor_required, led_or_404

from ..access import assignments_led
from ..selectors.gradebook import gradebook


@instructor_required
@require_GET
def of_assignment(request: HttpRequest, pk: int) -> StreamingHttpResponse:
    """Attempts, marks, lateness, hand-ins and dates of one assignment."""
    found = get_object_or_404(assignments_led(request.user), pk=pk)
    return _file([found], found.title)


@instructor_required
@require_GET
def of_term(request: HttpRequest, pk: int) -> StreamingHttpResponse:
    """The same of everything that was asked of an ensemble in its term."""
    ensemble = led_or_404(request.user, pk)
    rows = assignments_led(request.user).filter(ensemble=ensemble).order_by("created", "pk")
    return _file(list(rows), f"{ensemble.name} {ensemble.term.name}")


def _file(assignments: list, name: str) -> StreamingHttpResponse:
    response = StreamingHttpResponse(gradebook(assignments), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = (
        f'attachment; filename="gradebook-{slugify(name) or "term"}-{timezone.localdate():%Y-%m-%d}.csv"'
    )
    return response
