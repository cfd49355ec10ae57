"""Is it up (`/livez`), can it work (`/readyz`), and what a director should know about it (`/state/`)."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from studio import access, house
from studio.models import Housekeeping


@require_safe
def livez(request: HttpRequest) -> HttpResponse:
    """The process answers. Touches neither disk nor database."""
    return HttpResponse("ok\n", content_type="text/plain")


@require_safe
def readyz(request: HttpRequest) -> JsonResponse:
    """Database, files, disk, worker, backup and mail, each with a word or the reason.

    `state` is ok, degraded (200: it works, and somebody should look) or down (503: it cannot work).
    """
    found = house.checks()
    state = house.overall(found)
    words = {check.name: check.word for check in found}
    return JsonResponse({**words, "state": state}, status=503 if state == house.DOWN else 200)


@require_safe
@access.director_required
def state(request: HttpRequest) -> HttpResponse:
    """What `/readyz` says, with the reasons that only a director may read, and the archives that are here."""
    folder = settings.DATA_DIR / "backups"
    archives = sorted(folder.glob("topform-*"), reverse=True)[:40] if folder.is_dir() else []
    return render(
        request,
        "studio/state.html",
        {
            "checks": house.checks(),
            "failing": Housekeeping.objects.exclude(failed=None).order_by("name"),
            "archives": [{"name": path.name, "size": path.stat().st_size} for path in archives],
        },
    )
