"""A date that is past is nearly always a slip of the hand: it is asked about before it makes everyone late."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.utils import timezone


def past_dues(dues: Iterable[tuple[str, datetime | None]], *, before: Iterable[datetime | None] = ()) -> str:
    """One sentence that names the steps whose new date is past, "" when none is. `dues`: (name of a step, its date);
    `before`: dates that stand already, which nobody is asked about again."""
    now, standing = timezone.now(), set(before)
    past = [(name, due) for name, due in dues if due and due < now and due not in standing]
    if not past:
        return ""
    said = ", ".join(f"{name} {timezone.localtime(due):%-d %B %Y}" for name, due in past)
    return f"Due before now: {said}. Whoever has not handed in would be late at once."
