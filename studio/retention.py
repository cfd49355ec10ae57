"""Which daily archives stay: the newest of each of the last days, weeks and months that have one."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Hashable, Iterable
from dataclasses import dataclass

from studio import env

NAME = re.compile(r"topform-(\d{4}-\d\d-\d\d-\d{6}-\d{6})-daily\.(?:zip|tar\.gz)")


@dataclass(frozen=True)
class Keep:
    """How many days, ISO weeks and months each keep their newest archive. Nothing at all: no daily archives are made."""

    days: int = 0
    weeks: int = 0
    months: int = 0

    @classmethod
    def from_environment(cls) -> Keep:
        names = ("TOPFORM_BACKUP_KEEP", "TOPFORM_BACKUP_WEEKS", "TOPFORM_BACKUP_MONTHS")
        return cls(*(max(0, env.number(name, 0)) for name in names))

    def __bool__(self) -> bool:
        return bool(self.days or self.weeks or self.months)


def made(name: str) -> dt.datetime | None:
    """When a daily archive was made, by its name; None for every other file, which is left alone."""
    found = NAME.fullmatch(name)
    return dt.datetime.strptime(found[1], "%Y-%m-%d-%H%M%S-%f") if found else None


def to_remove(names: Iterable[str], keep: Keep) -> list[str]:
    """The daily archives that go, oldest first. The newest of all always stays.

    >>> to_remove(["topform-2026-03-0%d-020000-000000-daily.zip" % day for day in (1, 2, 3)] + ["notes.txt"], Keep(days=2))
    ['topform-2026-03-01-020000-000000-daily.zip']
    """
    dated = sorted(((when, name) for name in names if (when := made(name))), reverse=True)
    kept = {name for _, name in dated[:1]}
    for number, bucket in ((keep.days, _day), (keep.weeks, _week), (keep.months, _month)):
        newest: dict[Hashable, str] = {}
        for when, name in dated:
            newest.setdefault(bucket(when), name)
        kept |= set(list(newest.values())[:number])
    return [name for _, name in reversed(dated) if name not in kept]


def _day(when: dt.datetime) -> Hashable:
    return when.date()


def _week(when: dt.datetime) -> Hashable:
    return when.isocalendar()[:2]


def _month(when: dt.datetime) -> Hashable:
    return when.year, when.month
