"""Is it up (`/livez`), can it work (`/readyz`), figures (`/metrics`), and what a director should know (`/state/`)."""

from __future__ import annotations

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.crypto import constant_time_compare
from django.views.decorators.http import require_safe

from studio import access, exposition, house
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
def metrics(request: HttpRequest) -> HttpResponse:
    """Figures for the machine room as OpenMetrics text: nothing (404) unless a token is set, and for its bearer alone."""
    token = settings.METRICS_TOKEN
    if not token:
        raise Http404
    kind, _, given = request.headers.get("Authorization", "").partition(" ")
    if kind.lower() != "bearer" or not constant_time_compare(given.strip(), token):
        answer = HttpResponse("A token is needed: Authorization: Bearer …\n", content_type="text/plain", status=401)
        answer["WWW-Authenticate"] = 'Bearer realm="metrics"'
        return answer
    answer = HttpResponse(exposition.page(), content_type=exposition.TYPE)
    answer["Cache-Control"] = "no-store"
    return answer


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
