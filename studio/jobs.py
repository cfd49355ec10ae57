"""Background work: a row that people can watch, a worker that runs it exactly once, a sweeper for killed workers.

An app registers a handler in its `jobs.py`::

    @handler("roster-letters")
    def send_letters(progress: Progress) -> dict:
        ...
        progress.step(done, total, "Letter 3 of 40")
        return {"sent": 40}

and starts it with `start_job(owner, "roster-letters", payload)`. A handler may run again after a crash,
so it must be safe to repeat. Raise `JobError` to end with a message for the owner.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone
from django_tasks import task

from studio.models import Job, User

SILENCE = dt.timedelta(seconds=60)
WAIT = dt.timedelta(minutes=5)
MAX_ATTEMPTS = 3

Handler = Callable[["Progress"], dict[str, Any]]
HANDLERS: dict[str, Handler] = {}
STARTERS: list[Callable[[], Any]] = []


class JobError(Exception):
    """The work cannot be done; the message is for the owner and says what to do."""


class Superseded(Exception):
    """The sweeper gave this job to another worker because this one was silent too long."""


class Progress:
    """What a handler gets: the payload, and a way to say how far it is."""

    def __init__(self, job: Job) -> None:
        self.job_id = job.pk
        self.owner = job.owner
        self.payload: dict[str, Any] = job.payload
        self.attempt = job.attempts

    def step(self, done: int, total: int, message: str = "") -> None:
        """Record progress and show that the worker lives. Raises Superseded when another has taken over."""
        if not self._mine().update(done=done, total=total, message=message[:300], heartbeat=timezone.now()):
            raise Superseded

    def _mine(self) -> Any:
        return Job.objects.filter(pk=self.job_id, attempts=self.attempt, state=Job.State.RUNNING)

    def finish(self, state: str, message: str, result: dict[str, Any]) -> None:
        self._mine().update(state=state, message=message[:300], result=result, finished=timezone.now())


def handler(kind: str) -> Callable[[Handler], Handler]:
    """Register the function that does jobs of `kind`."""

    def register(function: Handler) -> Handler:
        HANDLERS[kind] = function
        return function

    return register


def on_start(function: Callable[[], Any]) -> None:
    """Have a function called when a worker starts: it looks for work that an update has made. It must be quick and safe to
    repeat; several workers may call it at once."""
    STARTERS.append(function)


def begin() -> None:
    """What a worker does first."""
    for function in STARTERS:
        function()


def start_job(owner: User | None, kind: str, payload: dict[str, Any] | None = None, *, total: int = 0) -> Job:
    """Make the row and put it in the queue, both or neither."""
    if kind not in HANDLERS:
        raise KeyError(f"no handler for jobs of kind {kind!r}")
    with transaction.atomic():
        job = Job.objects.create(owner=owner, kind=kind, payload=payload or {}, total=total)
        run_job.enqueue(job.pk)
    return job


@task()
def run_job(job_id: int) -> None:
    """Claim the job and do it. A second call for the same attempt finds nothing to claim."""
    claimed = Job.objects.filter(pk=job_id, state=Job.State.WAITING).update(
        state=Job.State.RUNNING, attempts=F("attempts") + 1, heartbeat=timezone.now()
    )
    if claimed:
        _do(Job.objects.select_related("owner").get(pk=job_id))


def _do(job: Job) -> None:
    progress = Progress(job)
    state, message, result = Job.State.FAILED, "It failed on our side; the fault is in the site's log.", {}
    try:
        result = HANDLERS[job.kind](progress) or {}
        state, message = Job.State.DONE, ""
    except JobError as error:
        message = str(error)
    except Superseded:
        return
    finally:
        progress.finish(state, message, result)


def sweep(now: dt.datetime | None = None) -> int:
    """Put jobs of killed workers back in the queue, give up after three attempts; returns how many were moved."""
    now = now or timezone.now()
    silent = Q(state=Job.State.RUNNING, heartbeat__lt=now - SILENCE)
    forgotten = Q(state=Job.State.WAITING, created__lt=now - WAIT) & (Q(heartbeat=None) | Q(heartbeat__lt=now - WAIT))
    moved = 0
    for pk in list(Job.objects.filter(silent | forgotten).values_list("pk", flat=True)):
        moved += _requeue(pk, now)
    return moved


def _requeue(pk: int, now: dt.datetime) -> int:
    with transaction.atomic():
        job = Job.objects.select_for_update(skip_locked=True).filter(pk=pk).first()
        if job is None or job.is_over or (job.heartbeat or job.created) > now - SILENCE:
            return 0
        if job.attempts >= MAX_ATTEMPTS:
            job.state, job.finished = Job.State.FAILED, now
            job.message = f"It stopped {job.attempts} times without an end; try again, or tell whoever runs the site."
        else:
            job.state, job.heartbeat = Job.State.WAITING, now
            run_job.enqueue(job.pk)
        job.save()
    return 1
