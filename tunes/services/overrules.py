"""What a person hears otherwise than the engine: set beside what was computed, withdrawn, restored."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from studio.audit import record
from studio.models import AuditEntry, User
from tunes.harmony.analysis.pipeline import Function
from tunes.harmony.pitch.spelling import Key
from tunes.models import AreaOverride, ChartRevision, LabelOverride
from tunes.same_place import every_run
from tunes.same_place import every_time as every_time_of
from tunes.study import analysis_of, chart_of


@transaction.atomic
def overrule(
    *, revision: ChartRevision, event: int, key: Key, function: Function, why: str, by: User, every_time: bool = True
) -> LabelOverride:
    """Set a person's reading of one event beside the computed one; an earlier standing one is withdrawn.

    It holds for every time the bar sounds (`tunes.same_place`), or with `every_time` False for this time only.
    Returned is the row of `event`; the rows of the other times share its `together`.
    """
    ChartRevision.objects.select_for_update().get(pk=revision.pk)
    events = _every_time(revision, event) if every_time else (event,)
    standing = revision.label_overrides.filter(event__in=events, withdrawn=None)
    standing.update(withdrawn=timezone.now(), withdrawn_by=by)
    fields = {"key": key.text, "function": function.to_json(), "why": why, "by": by, "together": uuid.uuid4()}
    rows = LabelOverride.objects.bulk_create(
        [LabelOverride(revision=revision, event=index, **fields) for index in events]
    )
    _tell(revision, f"chord {event + 1} read in {key.text}", by)
    return next(row for row in rows if row.event == event)


def _every_time(revision: ChartRevision, event: int) -> tuple[int, ...]:
    return every_time_of(chart_of(revision.text), analysis_of(revision), event)


@transaction.atomic
def overrule_area(
    *, revision: ChartRevision, first: int, last: int, key: Key, why: str, by: User, every_time: bool = True
) -> AreaOverride:
    """Set the key of events `first` to `last`, both included, every time they sound or this time only. Raises ValueError
    when they are out of order."""
    if first > last:
        raise ValueError("A key area ends where it starts or later.")
    runs = every_run(chart_of(revision.text), analysis_of(revision), first, last) if every_time else ((first, last),)
    fields = {"key": key.text, "why": why, "by": by, "together": uuid.uuid4()}
    rows = AreaOverride.objects.bulk_create(
        [AreaOverride(revision=revision, first=start, last=end, **fields) for start, end in runs]
    )
    _tell(revision, f"chords {first + 1} to {last + 1} in {key.text}", by)
    return next(row for row in rows if row.first == first)


@transaction.atomic
def withdraw_overrule(*, row: LabelOverride | AreaOverride, by: User) -> None:
    """Take an overrule back, every time it was set for at once. It stays on record, with who withdrew it; twice is the
    same as once."""
    if _set_together(row).filter(withdrawn=None).update(withdrawn=timezone.now(), withdrawn_by=by):
        _tell(row.revision, f"{row} taken back", by)


@transaction.atomic
def restore_overrule(*, row: LabelOverride | AreaOverride, by: User) -> None:
    """Undo a withdrawal: what was withdrawn at once stands again, in place of any made since for the same events."""
    rows = _set_together(row).filter(withdrawn=row.withdrawn) if row.withdrawn else type(row).objects.filter(pk=row.pk)
    ids = list(rows.values_list("pk", flat=True))
    if isinstance(row, LabelOverride):
        events = list(LabelOverride.objects.filter(pk__in=ids).values_list("event", flat=True))
        since = LabelOverride.objects.filter(revision=row.revision_id, event__in=events, withdrawn=None)
        since.exclude(pk__in=ids).update(withdrawn=timezone.now(), withdrawn_by=by)
    type(row).objects.filter(pk__in=ids).update(withdrawn=None, withdrawn_by=None)
    _tell(row.revision, f"{row} stands again", by)


def _tell(revision: ChartRevision, what: str, by: User) -> None:
    version = revision.version
    record(AuditEntry.Kind.OVERRULE, f"“{version.tune.title}”, {version.name}: {what}", by=by)


def _set_together(row: LabelOverride | AreaOverride) -> QuerySet[Any]:
    """The rows that were set in one go with this one, itself among them."""
    table: Any = type(row)
    rows: QuerySet[Any] = table.objects.filter(revision=row.revision_id)
    return rows.filter(together=row.together) if row.together else rows.filter(pk=row.pk)
