"""Which bar a question asks about, by its number as played; the written one second. Pure.

Questions store the bar as it is printed and which pass of it they mean (older ones no more than that), so the number as
played is worked out from the chart they were built from.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from tunes.bar_names import bar_name, bars_named, played_at
from tunes.harmony.charts import Chart
from tunes.harmony.charts.bar_count import played_numbers

WHOLE = "whole tune"


class Bars:
    """The bars of one chart under both counts."""

    def __init__(self, chart: Chart) -> None:
        self._at = played_at(chart)
        self._passes: dict[int, list[int]] = {}
        for one, played in zip(chart.unfold(), played_numbers(chart), strict=True):
            self._passes.setdefault(chart.bars[one.bar].number, []).append(played)

    def first(self, written: int) -> int:
        """The number as played of a printed bar, the first time it comes; itself where the chart has no such bar."""
        return self._passes.get(written, [written])[0]

    def written_names(self) -> dict[int, str]:
        """Printed number → the name of the bar."""
        return {written: bar_name(found[0], written) for written, found in self._passes.items()}

    def played(self, question: Mapping[str, Any]) -> int | None:
        """The number as played; None for a question about the whole tune."""
        written = question.get("bar")
        if written is None:
            return None
        events = [
            question.get("event"),
            (question.get("key") or {}).get("event"),
            *((question.get("key") or {}).get("events") or ()),
        ]
        event = next((event for event in events if event is not None), None)
        if event is not None and event < len(self._at):
            return self._at[event]
        found = self._passes.get(written, [written])
        times = int((question.get("context") or {}).get("pass") or 1)
        return found[min(times, len(found)) - 1]

    def name(self, question: Mapping[str, Any]) -> str:
        """ "bar 17 (written 9)", or "whole tune"."""
        played = self.played(question)
        return WHOLE if played is None else bar_name(played, question["bar"])

    def names(self, questions: Iterable[Mapping[str, Any]]) -> str:
        """The bars of several questions: "bars 4, 12 and 28"."""
        found = [played for q in questions if (played := self.played(q)) is not None]
        return bars_named(found) if found else WHOLE
