"""What writes by-ear sheets. Every function is one transaction; what is typed is kept as typed."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from studio.models import User
from tunes.models import ByEarBar, ByEarEdit, ByEarSheet, ChartRevision, EarResult, Recording

FIELDS = {"bass": 60, "chords": 120}  # names and how much each keeps
MOST_EDITS = 400


def start_sheet(*, user: User, revision: ChartRevision, recording: Recording | None, way: str) -> ByEarSheet:
    """A fresh, empty sheet; earlier ones stay."""
    return ByEarSheet.objects.create(user=user, revision=revision, recording=recording, way=way)


@dataclass(frozen=True)
class Saved:
    """The bar as it stands now. `changed` False when the same was sent twice."""

    row: ByEarBar
    changed: bool


def save_field(*, sheet: ByEarSheet, bar: int, field: str, text: str) -> Saved:
    """Write one field and remember the step for undo."""
    text = text[: FIELDS[field]]
    with transaction.atomic():
        ByEarSheet.objects.select_for_update().get(pk=sheet.pk)
        row, _made = ByEarBar.objects.get_or_create(sheet=sheet, bar=bar)
        before = getattr(row, field)
        if before == text:
            return Saved(row, False)
        setattr(row, field, text)
        row.serial += 1
        row.save()
        ByEarEdit.objects.create(sheet=sheet, bar=bar, field=field, before=before, after=text)
        _forget_oldest(sheet)
        ByEarSheet.objects.filter(pk=sheet.pk).update(changed=timezone.now())
    return Saved(row, True)


def _forget_oldest(sheet: ByEarSheet) -> None:
    old = sheet.edits.order_by("-pk").values_list("pk", flat=True)[MOST_EDITS : MOST_EDITS + 50]
    if old:
        ByEarEdit.objects.filter(pk__in=list(old)).delete()


def undo(*, sheet: ByEarSheet) -> ByEarEdit | None:
    """Take back the last step; returns it, or None when nothing is left to take back."""
    with transaction.atomic():
        ByEarSheet.objects.select_for_update().get(pk=sheet.pk)
        step = sheet.edits.order_by("-pk").first()
        if step is None:
            return None
        ByEarBar.objects.filter(sheet=sheet, bar=step.bar).update(**{step.field: step.before})
        ByEarEdit.objects.filter(pk=step.pk).delete()
    return step


def set_shared(*, sheet: ByEarSheet, shared: bool) -> None:
    ByEarSheet.objects.filter(pk=sheet.pk).update(shared=shared)


def record_comparison(*, sheet: ByEarSheet, score: float, detail: dict[str, int]) -> EarResult:
    """Keep the result as evidence; the first comparison is dated on the sheet."""
    with transaction.atomic():
        ByEarSheet.objects.filter(pk=sheet.pk, compared=None).update(compared=timezone.now())
        return EarResult.objects.create(
            player=sheet.user,
            tune=sheet.revision.version.tune,
            kind=EarResult.Kind.BY_EAR,
            score=max(0.0, min(1.0, score)),
            detail=detail | {"sheet": sheet.pk, "revision": sheet.revision_id},
        )
