"""Is it up (`/livez`), can it work (`/readyz`)."""
from __future__ import annotations

import datetime as dt
import os

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.models import WorkerBeat

WORKER_SILENCE = dt.timedelta(seconds=90)


@require_safe
def livez(request: HttpRequest) -> HttpResponse:
    """The process answers. Touches neither disk nor database."""
    return HttpResponse("ok\n", content_type="text/plain")


@require_safe
def readyz(request: HttpRequest) -> JsonResponse:
    """Database, migrations, writable folder and worker, each with a word; 503 when one of the first three fails."""
    checks = {"database": _database(), "files": _files()}
    needed = all(word == "ok" for word in checks.values())
    checks["worker"] = _worker() if needed else "unknown"
    return JsonResponse(checks, status=200 if needed else 503)


def _database() -> str:
    try:
        executor = MigrationExecutor(connection)
        behind = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return "cannot be reached"
    return "migrations are pending" if behind else "ok"


def _files() -> str:
    folder = settings.MEDIA_ROOT if settings.MEDIA_ROOT.exists() else settings.MEDIA_ROOT.parent
    return "ok" if os.access(folder, os.W_OK) else "folder is not writable"


def _worker() -> str:
    last = WorkerBeat.objects.order_by("-at").values_list("at", flat=True).first()
    if last is None:
        return "never seen"
    return "ok" if timezone.now() - last < WORKER_SILENCE else f"silent since {last:%Y-%m-%d %H:%M:%S} UTC"
