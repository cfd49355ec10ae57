"""Sound files that players handed in, with seeking (RFC 9110 section 14) and nothing a browser could run."""

from __future__ import annotations

from typing import Any, BinaryIO

from django.contrib.auth.decorators import login_required
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from tunes.recordings.ranges import Unsatisfiable, bounded, wanted

from ..access import submission_for
from ..models import Submission


@login_required
@require_safe
def listen(request: HttpRequest, pk: int) -> HttpResponseBase:
    """The file of one hand-in, for its sender and those who lead the ensemble."""
    return respond(request, submission_for(request.user, pk))


def respond(request: HttpRequest, sent: Submission) -> HttpResponseBase:
    """The file of a hand-in that the caller may hear; 404 for one that is a link or a note."""
    if not sent.file:
        raise Http404
    try:
        file: Any = sent.file.open("rb")
    except FileNotFoundError as missing:
        raise Http404 from missing
    size = sent.file.size
    response = _ranged(file, size, request.headers.get("Range", ""), sent.media_type)
    response["Accept-Ranges"] = "bytes"
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response["Content-Disposition"] = (
        content_disposition_header(bool(request.GET.get("download")), sent.name or "hand-in") or "inline"
    )
    return response


def _ranged(file: BinaryIO, size: int, asked: str, media_type: str) -> HttpResponseBase:
    try:
        span = bounded(wanted(asked or None, size))
    except Unsatisfiable:
        file.close()
        return HttpResponse(status=416, headers={"Content-Range": f"bytes */{size}"})
    if span is None:
        return FileResponse(file, content_type=media_type)
    with file:
        file.seek(span.first)
        response = HttpResponse(file.read(span.length), status=206, content_type=media_type)
    response["Content-Range"] = span.content_range
    response["Content-Length"] = str(span.length)
    return response
