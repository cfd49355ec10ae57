"""How long takes are kept: whole months of the calendar. Pure."""

from __future__ import annotations

import calendar
import datetime as dt


def months_later(moment: dt.datetime, months: int) -> dt.datetime:
    """The same day of another month, its last day where there is no such day. Negative: earlier.

    >>> months_later(dt.datetime(2026, 1, 31), 1), months_later(dt.datetime(2026, 3, 31), -13)
    (datetime.datetime(2026, 2, 28, 0, 0), datetime.datetime(2025, 2, 28, 0, 0))
    """
    count = moment.year * 12 + moment.month - 1 + months
    year, month = divmod(count, 12)
    return moment.replace(year=year, month=month + 1, day=min(moment.day, calendar.monthrange(year, month + 1)[1]))


def kept_since(months: int, now: dt.datetime) -> dt.datetime | None:
    """What was made before this goes; None when nothing goes by itself."""
    return months_later(now, -months) if months else None


def kept_until(months: int, made: dt.datetime) -> dt.datetime | None:
    """When a take goes by itself; None: never."""
    return months_later(made, months) if months else None
