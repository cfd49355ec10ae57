"""What the worker does between jobs: says that it lives, sweeps, sends the daily letters, keeps backups."""
from __future__ import annotations

import datetime as dt
import logging

from django.conf import settings
from django.core.cache import cache
from django.core.management import call_command
from django.utils import timezone

from studio import env, jobs, notices
from studio.middleware import programme_zone
from studio.models import Programme, WorkerBeat

log = logging.getLogger(__name__)


def beat(name: str) -> None:
    """Say that the worker lives; forget workers that have been silent for a day."""
    now = timezone.now()
    WorkerBeat.objects.update_or_create(name=name, defaults={"at": now})
    WorkerBeat.objects.filter(at__lt=now - dt.timedelta(days=1)).delete()


def make_round(name: str) -> None:
    """One round; safe with several workers and at any interval."""
    beat(name)
    moved = jobs.sweep()
    if moved:
        log.warning("%s jobs of silent workers were put back in the queue", moved)
    with timezone.override(programme_zone(Programme.current().time_zone)):
        now = timezone.localtime()
        hour = now.replace(hour=max(0, min(23, env.number("TOPFORM_DIGEST_HOUR", 17))), minute=0, second=0, microsecond=0)
        if now >= hour:
            notices.send_digests(now, made_before=hour)
        if _first_today("tidy", now):
            call_command("prune_db_task_results", verbosity=0)
            call_command("clearsessions", verbosity=0)
            keep = env.number("TOPFORM_BACKUP_KEEP", 0)
            if keep:
                from studio.backup import make_backup, prune

                make_backup(settings.DATA_DIR / "backups", reason="daily")
                prune(settings.DATA_DIR / "backups", keep=keep)


def _first_today(what: str, now: dt.datetime) -> bool:
    """True for the first caller of this day, whichever worker it is."""
    return bool(cache.add(f"round:{what}:{now:%Y-%m-%d}", 1, timeout=60 * 60 * 25))
