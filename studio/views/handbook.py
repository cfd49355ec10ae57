"""The handbook: the list of its pages, which can be searched, and one page a task."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from studio import handbook
from studio.access import is_instructor


@require_safe
@login_required
def index(request: HttpRequest) -> HttpResponse:
    """Every task; with `q`, those that hold all of its words."""
    words = request.GET.get("q", "").replace("\x00", "").strip()[:80]
    teaches = is_instructor(request.user)
    found = handbook.found_by(words, teaches=teaches)
    groups = [
        ("For players", [task for task in found if not task.teaches]),
        ("For instructors and directors", [task for task in found if task.teaches]),
    ]
    shown = [group for group in (reversed(groups) if teaches else groups) if group[1]]
    return render(request, "studio/handbook.html", {"groups": shown, "words": words})


@require_safe
@login_required
def page(request: HttpRequest, slug: str) -> HttpResponse:
    task = handbook.BY_SLUG.get(slug)
    if task is None:
        raise Http404("There is no such page in the handbook.")
    return render(request, "studio/handbook_page.html", {"task": task})
