"""What the worker does between jobs: says that it lives, sweeps, sends letters, tidies, keeps backups.

Every part is guarded for itself: what fails is written to the log with its traceback, recorded (`Housekeeping`), told to
the directors, tried again after a growing while, and keeps no other part from its turn. A part counts as done only after
it went well.
"""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Callable
from dataclasses import dataclass

from django.conf import settings
from django.core.mail import get_connection
from django.core.management import call_command
from django.db.models import F, Q
from django.utils import timezone

from studio import env, jobs, keeping, notices, second_place, space, statistics
from studio.backup import make_backup, prune
from studio.dumps import BackupBusy, BackupError
from studio.entry import sessions
from studio.middleware import programme_zone
from studio.models import Housekeeping, Programme, User, WorkerBeat
from studio.privacy import export, retention
from studio.retention import Keep

log = logging.getLogger(__name__)

LEASE = dt.timedelta(minutes=15)  # how long a part may run before another worker takes it up
FIRST_PAUSE, LONGEST_PAUSE = dt.timedelta(minutes=5), dt.timedelta(hours=1)
DAY = dt.timedelta(days=1)


class RoundFault(Exception):
    """A part did not do what it is for; the message is for a director."""


@dataclass(frozen=True, kw_only=True)
class Part:
    """One thing to do. `every` a day means once on each day of the programme's clock; `wanted` may switch it off."""

    name: str
    words: str  # what a director reads before "failed"
    run: Callable[[dt.datetime], object]
    every: dt.timedelta = dt.timedelta(0)
    wanted: Callable[[], object] = lambda: True


def beat(name: str) -> None:
    """Say that the worker lives; forget workers that have been silent for a day."""
    now = timezone.now()
    WorkerBeat.objects.update_or_create(name=name, defaults={"at": now})
    WorkerBeat.objects.filter(at__lt=now - DAY).delete()


def make_round(name: str) -> None:
    """One round; safe with several workers and at any interval. Raises nothing but what ends a process."""
    try:
        beat(name)
        zone = programme_zone(Programme.current().time_zone)
    except Exception:
        log.exception("the worker cannot say that it lives; the round is tried again")
        return
    with timezone.override(zone):
        for part in PARTS:
            try:
                _take_turn(part, timezone.localtime())
            except Exception:  # the database itself is away: nothing can be recorded
                log.exception("%s could not be recorded; the round goes on", part.words)


def _take_turn(part: Part, now: dt.datetime) -> None:
    if not part.wanted():
        return
    row, _ = Housekeeping.objects.get_or_create(name=part.name)
    if not _is_due(part, row, now):
        return
    free = Q(next_try=None) | Q(next_try__lte=now)
    if not Housekeeping.objects.filter(free, pk=row.pk).update(next_try=now + LEASE, tried=now):
        return  # another worker was quicker
    try:
        part.run(now)
    except BackupBusy:
        Housekeeping.objects.filter(pk=row.pk).update(next_try=timezone.now() + FIRST_PAUSE)
    except Exception as error:
        log.exception("%s failed; it will be tried again", part.words)
        _failed(part, row, str(error).strip() or type(error).__name__)
    else:
        _went_well(part, row)


def _is_due(part: Part, row: Housekeeping, now: dt.datetime) -> bool:
    if row.next_try and row.next_try > now:
        return False
    if row.done is None or row.failures:
        return True
    if part.every == DAY:
        return timezone.localdate(row.done) < timezone.localdate(now)
    return now - row.done >= part.every


def _failed(part: Part, row: Housekeeping, problem: str) -> None:
    pause = min(FIRST_PAUSE * 2 ** min(row.failures, 10), LONGEST_PAUSE)
    again = timezone.now() + pause
    Housekeeping.objects.filter(pk=row.pk).update(
        failures=F("failures") + 1, failed=row.failed or timezone.now(), problem=problem[:500], next_try=again
    )
    if not row.failures:
        clock = timezone.localtime(again)
        _tell_directors(f"{part.words} failed: {problem[:180]} It is tried again at {clock:%H:%M} and later.")


def _went_well(part: Part, row: Housekeeping) -> None:
    Housekeeping.objects.filter(pk=row.pk).update(
        done=timezone.now(), failed=None, failures=0, problem="", next_try=None
    )
    if row.failures:
        _tell_directors(f"{part.words} works again.")


def _tell_directors(text: str) -> None:
    directors = User.objects.filter(is_director=True, is_active=True)
    notices.notify_many(directors, "house", text, "/state/")


def _sweep(now: dt.datetime) -> None:
    if moved := jobs.sweep():
        log.warning("%s jobs of silent workers were put back in the queue", moved)


def _letters(now: dt.datetime) -> None:
    hour = now.replace(hour=max(0, min(23, env.number("TOPFORM_DIGEST_HOUR", 17))), minute=0, second=0, microsecond=0)
    if now >= hour:
        unsent: list[str] = []
        notices.send_digests(now, made_before=hour, unsent=unsent)
        if unsent:
            raise RoundFault(f"{len(unsent)} letters were not taken by the mail server ({unsent[-1]}).")


def _mail(now: dt.datetime) -> None:
    connection = get_connection()
    connection.open()
    connection.close()


def _tidy(now: dt.datetime) -> None:
    call_command("prune_db_task_results", verbosity=0)
    call_command("clearsessions", verbosity=0)
    sessions.forget_ended()
    keeping.clear_old(now)


def _backup(now: dt.datetime) -> None:
    folder = settings.DATA_DIR / "backups"
    make_backup(folder, reason="daily")
    prune(folder, Keep.from_environment())


def _second(now: dt.datetime) -> None:
    """The newest daily archive goes to the second place, unless it is there."""
    place = second_place.configured()
    daily = sorted((settings.DATA_DIR / "backups").glob("topform-*-daily.zip"))
    if place is None or not daily:
        return
    if daily[-1].name not in place.names():
        second_place.send(daily[-1], place, Keep.from_environment())
    if daily[-1].name not in place.names():
        raise BackupError("the archive is not listed in the second place after it was put there.")


def _has_daily() -> bool:
    return bool(Keep.from_environment())


PARTS = [
    Part(name="sweep", words="Taking up jobs of workers that ended", run=_sweep),
    Part(
        name="space", words="Keeping space in reserve", run=lambda now: space.reserve(), every=dt.timedelta(minutes=5)
    ),
    Part(name="backup", words="The daily backup", run=_backup, every=DAY, wanted=_has_daily),
    Part(
        name="second place",
        words="The copy of the backup in the second place",
        run=_second,
        every=dt.timedelta(minutes=30),
        wanted=lambda: _has_daily() and env.text("TOPFORM_BACKUP_TO"),
    ),
    Part(name="letters", words="Sending the daily letters", run=_letters),
    Part(
        name="mail",
        words="Reaching the mail server",
        run=_mail,
        every=dt.timedelta(minutes=15),
        wanted=lambda: settings.EMAIL_HOST,
    ),
    Part(name="statistics", words="Counting the tables anew", run=lambda now: statistics.refresh(), every=DAY),
    Part(
        name="archives",
        words="Deleting archives of people's data past their day",
        run=lambda now: export.clear_old(now),
        every=DAY,
    ),
    Part(name="keeping", words="Erasing by the programme's rule", run=lambda now: retention.daily(now), every=DAY),
    Part(name="tidy", words="Tidying old sessions, results and kept files", run=_tidy, every=DAY),
]


def add_part(part: Part) -> None:
    """Something more for the worker to do: an app calls this in its `jobs.py`. A name once."""
    if all(known.name != part.name for known in PARTS):
        PARTS.append(part)
