"""Writing the log."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from django.db import models
from django.db.models.signals import post_delete

from studio.models import AuditEntry, User

_request: ContextVar[Any] = ContextVar("audit_request", default=None)


@contextmanager
def acting(request: Any) -> Iterator[None]:
    """While it lasts, what is recorded without a `by` was done by whoever sent this request."""
    token = _request.set(request)
    try:
        yield
    finally:
        _request.reset(token)


def _actor() -> tuple[User | None, bool]:
    request = _request.get()
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return None, False
    return user, request.path.startswith("/api/v1/")  # the pages beside the interface are a person's


def _entry(kind: str, text: str, by: User | None, about: Any) -> AuditEntry:
    actor, program = _actor()
    doer = by if by is not None else actor
    service = doer.service if doer is not None else ""
    by_id = doer.pk if doer is not None and not service else None
    about_id = getattr(about, "pk", about)
    row = AuditEntry(kind=kind, text=text[:300], by_id=by_id, about_id=about_id, service=service)
    row.by_program = program or bool(service)
    return row


def record(kind: str, text: str, *, by: User | None = None, about: Any = None) -> None:
    """Add one entry. `about`: the person it concerns, or their id. Call it inside the transaction of what it tells of."""
    _entry(kind, text, by, about).save()


def record_each(kind: str, rows: Iterable[tuple[Any, str]], *, by: User | None = None) -> None:
    """One entry for each (person or id, text), in one statement."""
    AuditEntry.objects.bulk_create([_entry(kind, text, by, about) for about, text in rows])


def watch_deletions(model: type[models.Model], text: Callable[[Any], str]) -> None:
    """Record every deletion of a row of `model`. What goes along with something else is not recorded for itself."""

    def tell(instance: Any, origin: Any, **_: Any) -> None:
        if origin is instance or (isinstance(origin, models.QuerySet) and origin.model is model):
            record(AuditEntry.Kind.DELETION, text(instance))

    post_delete.connect(tell, sender=model, weak=False, dispatch_uid=f"audit-{model._meta.label}")
