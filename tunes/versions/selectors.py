"""What reads versions to be laid side by side."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import Exists, OuterRef

from tunes.models import ChartRevision, Tune
from tunes.selectors import revisions_for_study


def newest_revisions(tune: Tune) -> list[ChartRevision]:
    """The newest revision of every version, the agreed one first. Three queries."""
    newer = ChartRevision.objects.filter(version=OuterRef("version"), number__gt=OuterRef("number"))
    rows = revisions_for_study().filter(~Exists(newer), version__tune=tune)
    return list(rows.order_by("-version__is_agreed", "version_id"))


def newest_texts(tune: Tune) -> list[ChartRevision]:
    """The same for who needs the charts alone, without what was overruled in them. One query."""
    newer = ChartRevision.objects.filter(version=OuterRef("version"), number__gt=OuterRef("number"))
    rows = ChartRevision.objects.select_related("version").defer("analysis").filter(~Exists(newer), version__tune=tune)
    return list(rows.order_by("-version__is_agreed", "version_id"))


def chosen_revisions(rows: Sequence[ChartRevision], wanted: Sequence[str]) -> list[ChartRevision]:
    """Those whose version was asked for, in the order asked; two by default."""
    by_version = {str(row.version_id): row for row in rows}
    chosen = [by_version[key] for key in dict.fromkeys(wanted) if key in by_version]
    return chosen[:6] if len(chosen) > 1 else list(rows[:2])
