"""A date that is past is nearly always a slip of the hand: it is asked about before it makes everyone late."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from django.utils import timezone


def past_dues(
    dues: Iterable[tuple[str, datetime | None]],
    *,
    before: Iterable[datetime | None] = (),
    ends: date | None = None,
) -> str:
    """What is asked about new dates: those that are past, and those after the last day of the term (`ends`); "" when there is
    nothing to ask. `dues`: (name of a step, its date); `before`: dates that stand already, which nobody is asked about again."""
    now, standing = timezone.now(), set(before)
    new = [(name, due) for name, due in dues if due and due not in standing]
    past = _named((name, due) for name, due in new if due < now)
    after = _named((name, due) for name, due in new if ends and timezone.localtime(due).date() > ends)
    said = [f"Due before now: {past}. Whoever has not handed in would be late at once."] if past else []
    if after and ends:
        said.append(f"Due after the last day of the term, {ends:%-d %B %Y}: {after}.")
    return " ".join(said)


def _named(dues: Iterable[tuple[str, datetime]]) -> str:
    return ", ".join(f"{name} {timezone.localtime(due):%-d %B %Y}" for name, due in dues)
