"""Which goes came after the answers: they are marked like any other, and are no evidence by themselves.

The rule, the same for every kind of release: once the answers to one go of a player at a step have been open to
them, a go handed in later may be a copy. It counts in the ledger only when an instructor says so, in their name.
What has been open once stays known, also when the answers are withheld again or the date is moved.
Handing in changes by ear opens the charts of the tune, which hold the answers: whatever the release, a further go
comes after them.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime

from django.utils import timezone

from ..kinds import closing_kinds, quiz_kinds
from ..models import Assignment, Attempt
from ..selectors.desk import is_out


def came_after(attempt: Attempt, now: datetime) -> bool:
    """Could the player see the answers to an earlier go before handing this one in? One query."""
    group = _at_step(attempt)
    earlier = [a for a in group if a.number < attempt.number]
    return any(a.answers_shown or _is_open(a, group, now) for a in earlier)


def keep_shown(attempt: Attempt, now: datetime) -> None:
    """After a hand-in: keep which goes of this player at this step are open to them now. Two queries at most."""
    _write(_newly(_at_step(attempt), now), now)


def keep_all_shown(assignment: Assignment) -> None:
    """Keep what is open to whom in an assignment, before its dates or its release change: two queries at most."""
    rows = Attempt.objects.filter(step__assignment=assignment, step__kind__in=quiz_kinds()).select_related("step")
    groups: dict[tuple[int, int], list[Attempt]] = defaultdict(list)
    for row in rows.order_by("number"):
        row.step.assignment = assignment
        groups[row.step_id, row.player_id].append(row)
    now = timezone.now()
    _write([row for group in groups.values() for row in _newly(group, now)], now)


def _at_step(attempt: Attempt) -> list[Attempt]:
    rows = list(Attempt.objects.filter(step=attempt.step_id, player=attempt.player_id).order_by("number"))
    for row in rows:
        row.step = attempt.step
    return rows


def _newly(group: list[Attempt], now: datetime) -> list[Attempt]:
    return [a for a in group if a.answers_shown is None and _is_open(a, group, now)]


def _is_open(attempt: Attempt, group: list[Attempt], now: datetime) -> bool:
    """Whether the player may see the answers to this go, on its own page or on a chart."""
    return is_out(attempt.step, attempt, group, now) or (attempt.step.kind in closing_kinds() and not attempt.is_open)


def _write(rows: list[Attempt], now: datetime) -> None:
    if rows:
        Attempt.objects.filter(pk__in=[row.pk for row in rows]).update(answers_shown=now)
