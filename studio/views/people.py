"""People of the programme."""
from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from studio.access import director_required
from studio.models import User
from studio.web import paginate


@require_safe
@director_required
def people(request: HttpRequest) -> HttpResponse:
    """Everybody, paged."""
    return render(request, "studio/people.html", {"page": paginate(request, User.objects.order_by("name", "pk"))})
