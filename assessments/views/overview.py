"""The page that says what needs doing."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from studio.access import instructor_required
from studio.selectors import current_term
from studio.web import paginate

from ..selectors import overview as read


@instructor_required
@require_safe
def page(request: HttpRequest) -> HttpResponse:
    """What waits, then the ensembles of the running term and those to come; on a new site what to do first."""
    shown = paginate(request, read.ensembles_now(request.user), per_page=20)
    later = read.ensembles_to_come(request.user)
    leaders = read.leaders_of([*shown, *later])
    return render(
        request,
        "assessments/overview.html",
        {
            "tasks": read.tasks(request.user),
            "term": current_term(),
            "page": shown,
            "first_steps": read.first_steps(request.user, list(shown)),
            "later": [(ensemble, leaders.get(ensemble.pk, "")) for ensemble in later],
            "rows": [(ensemble, leaders.get(ensemble.pk, "")) for ensemble in shown],
        },
    )
