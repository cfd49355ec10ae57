"""Send a stored sound so that a player can seek in it (RFC 9110, sections 13 to 15)."""

from __future__ import annotations

from typing import Any

from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase, HttpResponseNotModified
from django.utils.cache import get_conditional_response
from django.utils.http import content_disposition_header, http_date

from tunes.models import RecordingFile
from tunes.recordings.ranges import Span, Unsatisfiable, bounded, if_range_holds, wanted


def send(request: HttpRequest, sound: RecordingFile) -> HttpResponseBase:
    """200, 206, 304, 412 or 416 for a GET; the same without a body, and never 206, for a HEAD."""
    etag = f'"{sound.digest}"'
    modified = int(sound.uploaded.timestamp())
    early = get_conditional_response(request, etag=etag, last_modified=modified)
    if early is not None:
        _describe(early, sound, etag, modified)
        return early
    span: Span | None = None
    if request.method == "GET" and if_range_holds(request.headers.get("If-Range"), etag, http_date(modified)):
        try:
            span = bounded(wanted(request.headers.get("Range"), sound.size))
        except Unsatisfiable:
            refused = HttpResponse(status=416, content_type="text/plain")
            _describe(refused, sound, etag, modified)
            refused.headers["Content-Range"] = f"bytes */{sound.size}"
            return refused
    return _answer(request, sound, span, etag, modified)


def _answer(
    request: HttpRequest, sound: RecordingFile, span: Span | None, etag: str, modified: int
) -> HttpResponseBase:
    whole = span or Span(0, sound.size - 1, sound.size)
    response: HttpResponse | FileResponse
    if request.method == "HEAD":
        response = HttpResponse(content_type=sound.media_type)
    elif span:
        response = HttpResponse(_part(sound, span), status=206, content_type=sound.media_type)
    else:
        # Handed to the web server as a file: a listener that does not drain keeps a file open and no thread.
        response = FileResponse(sound.file.storage.open(sound.file.name or "", "rb"), content_type=sound.media_type)
    response.headers["Content-Length"] = str(whole.length)
    if span:
        response.headers["Content-Range"] = span.content_range
    _describe(response, sound, etag, modified)
    return response


def _describe(response: Any, sound: RecordingFile, etag: str, modified: int) -> None:
    headers = response.headers
    headers["Accept-Ranges"] = "bytes"
    headers["ETag"] = etag
    headers["Last-Modified"] = http_date(modified)
    headers["Cache-Control"] = "private, no-cache"
    headers["X-Content-Type-Options"] = "nosniff"
    if not isinstance(response, HttpResponseNotModified):
        headers["Content-Disposition"] = content_disposition_header(False, sound.original_name) or "inline"


def _part(sound: RecordingFile, span: Span) -> bytes:
    with sound.file.storage.open(sound.file.name or "", "rb") as stored:
        stored.seek(span.first)
        return bytes(stored.read(span.length))
