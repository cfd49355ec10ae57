"""What is new for the person signed in."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST, require_safe

from studio.web import paginate


@require_safe
@login_required
def notices(request: HttpRequest) -> HttpResponse:
    """All of one's notices, newest first."""
    return render(request, "studio/notices.html", {"page": paginate(request, request.user.notices.all())})


@require_safe
@login_required
def open_notice(request: HttpRequest, pk: int) -> HttpResponse:
    """Go where the notice points, and remember that it was seen."""
    notice = get_object_or_404(request.user.notices, pk=pk)
    request.user.notices.filter(pk=pk, seen=None).update(seen=timezone.now())
    safe = url_has_allowed_host_and_scheme(notice.url, allowed_hosts=None)
    return redirect(notice.url if notice.url and safe else "studio:notices")


@require_POST
@login_required
def seen(request: HttpRequest) -> HttpResponse:
    """Mark all as seen."""
    request.user.notices.filter(seen=None).update(seen=timezone.now())
    return redirect("studio:notices")
