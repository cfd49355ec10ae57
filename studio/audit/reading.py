"""Searching the log, and writing it as CSV."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import Q
from django.utils import timezone

from studio.models import AuditEntry

COLUMNS = ("When", "Kind", "By", "How", "About", "What")


@dataclass(frozen=True)
class Search:
    """What is asked of the log; what cannot be read asks for nothing. Days are the programme's, both ends included."""

    kind: str = ""
    person: str = ""
    words: str = ""
    first: str = ""
    last: str = ""

    @classmethod
    def of(cls, get: Any) -> Search:
        return cls(*(" ".join(get.get(name, "").split())[:100] for name in ("kind", "person", "q", "from", "to")))

    def rows(self) -> Any:
        """The entries that fit, newest first, with their people: one query."""
        rows = AuditEntry.objects.select_related("by", "about")
        if self.kind in AuditEntry.Kind.values:
            rows = rows.filter(kind=self.kind)
        if self.person:
            name = Q(by__name__icontains=self.person) | Q(about__name__icontains=self.person)
            name |= Q(service__icontains=self.person)
            rows = rows.filter(name | Q(by__email__iexact=self.person) | Q(about__email__iexact=self.person))
        if self.words:
            rows = rows.filter(text__icontains=self.words)
        if start := _midnight(self.first):
            rows = rows.filter(at__gte=start)
        if end := _midnight(self.last, after=1):
            rows = rows.filter(at__lt=end)
        return rows


def _midnight(text: str, after: int = 0) -> dt.datetime | None:
    try:
        day = dt.date.fromisoformat(text) + dt.timedelta(days=after)
        return timezone.make_aware(dt.datetime.combine(day, dt.time()))
    except (ValueError, OverflowError):
        return None


class _Line:
    def write(self, row: str) -> str:
        return row


def csv_lines(search: Search) -> Iterator[str]:
    """The entries that fit, as lines of CSV; a cell that a spreadsheet would reckon with is written as text. Times are those of
    the zone that holds now, not when the lines are read."""
    return _lines(search, timezone.get_current_timezone())


def _lines(search: Search, zone: dt.tzinfo) -> Iterator[str]:
    writer = csv.writer(_Line())
    yield writer.writerow(COLUMNS)
    for entry in search.rows().iterator(chunk_size=500):
        yield writer.writerow([safe(cell) for cell in _cells(entry, zone)])


def _cells(entry: AuditEntry, zone: dt.tzinfo) -> tuple[str, ...]:
    return (
        timezone.localtime(entry.at, zone).isoformat(timespec="seconds"),
        entry.get_kind_display(),
        entry.by.name if entry.by else entry.service,
        "service" if entry.service else "program" if entry.by_program else "page" if entry.by else "site",
        entry.about.name if entry.about else "",
        entry.text,
    )


def safe(cell: str) -> str:
    """A cell that begins like a formula gets an apostrophe (OWASP, CSV injection)."""
    return f"'{cell}" if cell.startswith(("=", "+", "-", "@", "\t", "\r")) else cell
