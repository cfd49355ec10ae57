"""Where every bar of a revision stands. Pure: rows in, states out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Protocol


class Word(Protocol):
    """One person's word on one bar (a `BarCheck`)."""

    bar: int
    state: str
    settled: Any


@dataclass(frozen=True)
class BarState:
    """`agreed` and `disputed` are the words of each kind; a settled dispute no longer counts."""

    agreed: tuple[Any, ...] = ()
    disputed: tuple[Any, ...] = ()
    settled: tuple[Any, ...] = ()

    @property
    def name(self) -> str:
        """ "disputed" while any dispute stands, "agreed" once anybody agreed or settled, else "open"."""
        if self.disputed:
            return "disputed"
        return "agreed" if self.agreed or self.settled else "open"


def bar_states(words: Iterable[Word], bars: Iterable[int]) -> dict[int, BarState]:
    """The state of every bar that counts (the pickup does not)."""
    by_bar: dict[int, dict[str, list[Word]]] = {bar: {"agreed": [], "disputed": [], "settled": []} for bar in bars}
    for word in words:
        if word.bar in by_bar:
            kind = "settled" if word.settled and word.state == "disputed" else word.state
            by_bar[word.bar][kind].append(word)
    return {
        bar: BarState(tuple(rows["agreed"]), tuple(rows["disputed"]), tuple(rows["settled"]))
        for bar, rows in by_bar.items()
    }


def all_agreed(states: dict[int, BarState]) -> bool:
    """Whether a chart is checked: it has bars, and every one is agreed."""
    return bool(states) and all(state.name == "agreed" for state in states.values())
