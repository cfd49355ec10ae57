"""Which bar a question, a comment or a cue speaks of: what is stored, under the names of `tunes.harmony.charts.bar_count`. Pure.

Questions store the bar as it is written and which pass of it they mean (older ones no more than that; questions on the notes
of a solo the bar as played), so the name is worked out from the chart they were built from.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from drills.kinds import question_kinds
from drills.question_kind import Needs
from tunes.harmony.charts import Chart
from tunes.harmony.charts.bar_count import bar_count, bar_name, bars_named

WHOLE = "whole tune"
_OLD_PLACE = re.compile(r"^(?:Bar (\d+)|Pickup)((?:, beat [^:(,]+)?)(?: \((?:\w+ time|time \d+)\))?(?=:)")
"""How prompts named their place before both counts were: "Bar 9, beat 3 (second time): …"."""


class Bars:
    """The bars of one chart under both counts."""

    def __init__(self, chart: Chart) -> None:
        self._count = bar_count(chart)

    def drawn(self, written: int) -> str:
        """What a printed bar is called: "bar 3, and 11 the second time"."""
        return self._count.drawn_at(written)

    def commented(self, written: int) -> int:
        """The number that a printed bar goes by."""
        return self._count.sounding_of(written)

    def played(self, question: Mapping[str, Any]) -> int | None:
        """The number as played; None for a question about the whole tune."""
        stored: int | None = question.get("bar")
        if stored is None or _of_solo(question):
            return stored
        key = question.get("key") or {}
        events = [question.get("event"), key.get("event"), *(key.get("events") or ())]
        event = next((event for event in events if event is not None), None)
        if event is not None and event < len(self._count.events):
            return int(self._count.events[event])
        return self._count.sounding_of(stored, int((question.get("context") or {}).get("pass") or 1))

    def written(self, question: Mapping[str, Any]) -> int | None:
        """The written number; None for a question about the whole tune."""
        stored: int | None = question.get("bar")
        if stored is None or not _of_solo(question):
            return stored
        return next(
            (w for w, found in zip(self._count.written, self._count.passes, strict=True) if stored in found), stored
        )

    def name(self, question: Mapping[str, Any]) -> str:
        """ "bar 17 (written 9)", or "whole tune"."""
        played = self.played(question)
        return WHOLE if played is None else bar_name(played, self.written(question))

    def names(self, questions: Iterable[Mapping[str, Any]]) -> str:
        """The bars of several questions: "bars 4, 12 and 28"."""
        found = [played for q in questions if (played := self.played(q)) is not None]
        return bars_named(found) if found else WHOLE

    def besides(self, question: Mapping[str, Any], *, once: bool) -> str:
        """What stands beside the number of a field: "written 9"; where a bar that sounds more often is asked `once`, its other
        numbers too."""
        written = self.written(question)
        if written is None:
            return ""
        index = self._count.index_of(written)
        if once and index is not None:
            return self._count.besides(index)
        return "" if written == self.played(question) else f"written {written}"

    def told(self, questions: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
        """The questions with what a page says of their bar: `place` ("bar 17 (written 9)"), `drawn` (the same for the bar
        as drawn), `played` and `written`; prompts and keys from before both counts were kept are brought up to them."""
        return [self._told(question) for question in questions]

    def _told(self, question: Mapping[str, Any]) -> dict[str, Any]:
        played, name = self.played(question), self.name(question)
        written = self.written(question)
        drawn = name if written is None or _of_solo(question) else self.drawn(written)
        found = {**question, "place": name, "drawn": drawn, "played": played, "written": written}
        found["prompt"] = _OLD_PLACE.sub(lambda match: name.capitalize() + match[2], str(question.get("prompt") or ""))
        if question.get("key"):
            found["key"] = self._key(question["key"], played)
        return found

    def _key(self, key: Mapping[str, Any], played: int | None) -> dict[str, Any]:
        whole = {"played": played, **key} if played is not None else dict(key)
        goal = whole.get("goal")
        if (
            isinstance(goal, Mapping)
            and "played" not in goal
            and goal.get("event", -1) in range(len(self._count.events))
        ):
            whole["goal"] = {**goal, "played": self._count.events[goal["event"]]}
        return whole


def _of_solo(question: Mapping[str, Any]) -> bool:
    """Whether it counts bars as played already: questions about a solo do."""
    kind = question_kinds().get(question.get("kind", ""))
    return kind is not None and kind.needs is Needs.SOLO
