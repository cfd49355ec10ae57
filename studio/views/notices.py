"""What is new for the person signed in."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST, require_safe

from studio.access import is_instructor
from studio.requests import MemberRequest
from studio.web import paginate

FOR_PLAYERS = "Nothing yet. What comes back from your instructor, and what is newly assigned, appears here."
FOR_INSTRUCTORS = "Nothing yet. What players ask you, and what the site did for you in the background, appears here."


@require_safe
@login_required
def notices(request: MemberRequest) -> HttpResponse:
    """All of one's notices, newest first."""
    words = FOR_INSTRUCTORS if is_instructor(request.user) else FOR_PLAYERS
    context = {"page": paginate(request, request.user.notices.all()), "empty_words": words}
    return render(request, "studio/notices.html", context)


@require_safe
@login_required
def open_notice(request: MemberRequest, pk: int) -> HttpResponse:
    """Go where the notice points, and remember that it was seen."""
    notice = get_object_or_404(request.user.notices, pk=pk)
    request.user.notices.filter(pk=pk, seen=None).update(seen=timezone.now())
    safe = url_has_allowed_host_and_scheme(notice.url, allowed_hosts=None)
    return redirect(notice.url if notice.url and safe else "studio:notices")


@require_POST
@login_required
def seen(request: MemberRequest) -> HttpResponse:
    """Mark all as seen."""
    request.user.notices.filter(seen=None).update(seen=timezone.now())
    return redirect("studio:notices")
