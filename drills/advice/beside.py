"""Two takes of the same thing beside each other, bar by bar: what the machine says of the one and of the other."""

from __future__ import annotations

from collections import Counter
from typing import Any

from drills.advice.page import SIGNS, advice_of
from drills.takes.models import Take
from drills.takes.played import bars_of

WORDS = {"another": "another note", "not-heard": "not heard"}


def beside_of(take: Take, other: Take) -> list[dict[str, Any]] | None:
    """The bars in which either has a sign that is not contested: {where, mine, theirs}, each a list of {kind, words, count}. None
    where one of them was not heard by the machine. No query when both were fetched with their advice."""
    both = [advice_of(one, fetched=True) for one in (take, other)]
    if any(found["state"] != "heard" or "solo" in found for found in both):
        return None
    mine, theirs = (_by_bar(found["marks"]) for found in both)
    choruses = max(take.choruses, other.choruses)
    return [
        {"where": _where(take, *place, choruses), "mine": _signs(mine.get(place)), "theirs": _signs(theirs.get(place))}
        for place in sorted({*mine, *theirs})
    ]


def _by_bar(marks: list[dict[str, Any]]) -> dict[tuple[int, int], Counter[str]]:
    found: dict[tuple[int, int], Counter[str]] = {}
    for mark in marks:
        if not mark["contested"]:
            found.setdefault((mark["chorus"], mark["bar"]), Counter())[mark["kind"]] += 1
    return found


def _signs(found: Counter[str] | None) -> list[dict[str, Any]]:
    order = [kind for kind, _ in SIGNS]
    return [
        {"kind": kind, "words": WORDS.get(kind, kind), "count": count}
        for kind, count in sorted((found or Counter()).items(), key=lambda one: order.index(one[0]))
    ]


def _where(take: Take, chorus: int, bar: int, choruses: int) -> str:
    bars = bars_of(take)
    number = bars[bar][0] if bar < len(bars) else bar + 1
    words = f"bar {number}" if number else "pickup"
    return f"chorus {chorus}, {words}" if choruses > 1 else words
