"""Progress of background work, for the person who started it."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from studio.models import Job
from studio.web import render_part


@require_safe
@login_required
def job(request: HttpRequest, pk: int) -> HttpResponse:
    """How far it is; the part asks again every second until it is over."""
    found = get_object_or_404(Job, pk=pk, owner=request.user)
    return render_part(request, "studio/job.html", "studio/_job.html", {"job": found})
