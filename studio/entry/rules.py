"""What the programme asks of those who sign in, by role. Plain data, read from the row of the programme."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

DIRECTOR, INSTRUCTOR, PLAYER = "director", "instructor", "player"
ROLES = {DIRECTOR: "Directors", INSTRUCTOR: "Instructors", PLAYER: "Players"}
GRACE = 14  # days, unless the director says otherwise


@dataclass(frozen=True)
class RoleRule:
    """One role. `factor_since`: since when a second factor is asked, None: it is not. `grace`: days until the site holds
    to it. `hours`: how long a sign-in lasts, None: as long as the site keeps sessions (30 days)."""

    factor_since: dt.datetime | None = None
    grace: int = GRACE
    hours: int | None = None


def read(kept: Mapping[str, Any]) -> dict[str, RoleRule]:
    """The rule of every role, of the column `Programme.sign_in_rules`."""
    return {role: _rule(kept.get(role) or {}) for role in ROLES}


def _rule(row: Mapping[str, Any]) -> RoleRule:
    since = row.get("factor_since")
    return RoleRule(dt.datetime.fromisoformat(since) if since else None, row.get("grace", GRACE), row.get("hours"))


def written(rules: Mapping[str, RoleRule]) -> dict[str, Any]:
    """What `read` reads."""
    return {
        role: {
            "factor_since": rule.factor_since.isoformat() if rule.factor_since else None,
            "grace": rule.grace,
            "hours": rule.hours,
        }
        for role, rule in rules.items()
    }


def changed(before: RoleRule, *, factor: bool, grace: int, hours: int | None, now: dt.datetime) -> RoleRule:
    """The rule after a change: who is newly asked for a second factor has the whole term of grace from now."""
    since = (before.factor_since or now) if factor else None
    return replace(before, factor_since=since, grace=grace, hours=hours)


def factor_due(rules: Iterable[RoleRule], asked: dt.datetime) -> dt.datetime | None:
    """By when a person with these roles needs a second factor, None: never. `asked`: since when they are asked.

    Several roles: the earliest day holds.
    """
    days = [
        max(rule.factor_since, asked) + dt.timedelta(days=rule.grace) for rule in rules if rule.factor_since is not None
    ]
    return min(days, default=None)


def longest(rules: Iterable[RoleRule]) -> dt.timedelta | None:
    """How long a sign-in of a person with these roles lasts, None: as long as the site keeps sessions. The shortest holds."""
    hours = [rule.hours for rule in rules if rule.hours]
    return dt.timedelta(hours=min(hours)) if hours else None


def said(rule: RoleRule) -> str:
    """A rule in words, for the log."""
    factor = f"second factor asked, {rule.grace} days of grace" if rule.factor_since else "no second factor asked"
    return f"{factor}; signed in for {f'{rule.hours} hours' if rule.hours else 'as long as the site keeps it'}"
