"""What happened in the programme, for whoever listens: a kind and ids, never names or words.

A service calls `happened` inside the transaction of what it tells of; what a listener writes stands or falls with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """The kinds, as other systems read them: a published name is never given another meaning."""

    HANDED_IN = "work.handed_in"
    REVIEWED = "work.reviewed"
    RETURNED = "work.returned"
    REOPENED = "work.review_taken_back"
    SIGNED_OFF = "tune.signed_off"
    SIGN_OFF_TAKEN_BACK = "tune.sign_off_taken_back"
    ASSIGNED = "assignment.opened"
    CLOSED = "assignment.closed"
    RELEASED = "assignment.answers_released"
    ROSTER = "roster.changed"


WORDS: Mapping[str, str] = {
    Kind.HANDED_IN: "Work is handed in",
    Kind.REVIEWED: "Work is reviewed",
    Kind.RETURNED: "Work is given back for another go",
    Kind.REOPENED: "A review is taken back",
    Kind.SIGNED_OFF: "A tune is signed off",
    Kind.SIGN_OFF_TAKEN_BACK: "A sign-off is taken back",
    Kind.ASSIGNED: "An assignment is opened",
    Kind.CLOSED: "An assignment is closed",
    Kind.RELEASED: "Answers of an assignment are released",
    Kind.ROSTER: "The roster of an ensemble changes",
}


@dataclass(frozen=True)
class Happening:
    """One thing. `ids` are numbers of rows by what they are: `attempt`, `player`, `ensemble` …"""

    kind: Kind
    ids: Mapping[str, int]


LISTENERS: list[Callable[[list[Happening]], object]] = []


def listen(function: Callable[[list[Happening]], object]) -> None:
    """Have a function called with whatever happens; twice is once."""
    if function not in LISTENERS:
        LISTENERS.append(function)


def happened(kind: Kind, **ids: int) -> None:
    happened_each(kind, [ids])


def happened_each(kind: Kind, rows: Iterable[Mapping[str, int]]) -> None:
    """The same kind for each of several rows."""
    found = [Happening(kind, dict(row)) for row in rows]
    for function in LISTENERS if found else ():
        function(found)
