"""A player's progress in pictures, for the player alone."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from ..progress import BOTTOM, HEIGHT, RIGHT, WIDTH, weeks_back
from ..selectors.progress import progress_of


@login_required
@require_GET
def progress(request: HttpRequest) -> HttpResponse:
    """Tempo over weeks, keys of twelve, bars that wait, tunes known over terms; each with its words or a table."""
    context = {
        "found": progress_of(request.user, timezone.now()), "weeks": weeks_back(timezone.localdate()), "width": WIDTH,
        "height": HEIGHT, "right": WIDTH - RIGHT, "foot": HEIGHT - 6, "ground": HEIGHT - BOTTOM,
    }  # fmt: skip
    return render(request, "assessments/progress.html", context)
