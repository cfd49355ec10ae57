"""When marks and answers may be seen by the player: one pure rule, used by every page and the API."""

from __future__ import annotations

from datetime import datetime

HAND_IN, LAST, DUE, BY_HAND = "hand-in", "last", "due", "by-hand"


def answers_out(
    *, release: str, released_at: datetime | None, due: datetime | None, now: datetime, handed_in: bool, goes_left: int
) -> bool:
    """May the player see marks and answers of an attempt?

    `handed_in`: this attempt is no longer open. `goes_left`: attempts still allowed after those handed
    in. An attempt that is still being written never shows its key, whatever the rule.
    """
    if not handed_in:
        return False
    if released_at is not None and released_at <= now:
        return True
    if release == HAND_IN:
        return True
    if release == LAST and goes_left <= 0:
        return True
    if release in (LAST, DUE):
        return due is not None and now >= due
    return False


def when_out(*, release: str, due: datetime | None) -> str:
    """One plain clause for the player: when the answers come."""
    if release == LAST:
        return f"when your last attempt is handed in{', or after the due date' if due else ''}"
    if release == DUE:
        return "after the due date" if due else "when your instructor releases them"
    if release == BY_HAND:
        return "when your instructor releases them"
    return "as soon as you hand in"
