"""The log of who did what: searched, filtered, as CSV."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from studio.access import director_required
from studio.audit import record
from studio.audit.reading import Search, csv_lines
from studio.models import AuditEntry
from studio.web import paginate


@require_safe
@director_required
def log(request: HttpRequest) -> HttpResponse:
    """The newest first, fifty to a page."""
    search = Search.of(request.GET)
    context = {
        "page": paginate(request, search.rows(), per_page=50),
        "search": search,
        "kinds": AuditEntry.Kind.choices,
        "query": request.GET.urlencode(),
    }
    return render(request, "studio/audit.html", context)


@require_safe
@director_required
def as_csv(request: HttpRequest) -> StreamingHttpResponse:
    """What the page shows, all of it, as a file."""
    record(AuditEntry.Kind.EXPORT, "The log as CSV", by=request.user)  # type: ignore[arg-type]
    response = StreamingHttpResponse(csv_lines(Search.of(request.GET)), content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = 'attachment; filename="log.csv"'
    return response
