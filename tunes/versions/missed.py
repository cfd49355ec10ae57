"""Bars that a player missed with the other band, for the quiz on variants: asked first, until they are heard."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from tunes.harmony.charts import Chart, Slot
from tunes.harmony.chords import parse_symbol
from tunes.models import ChartRevision, EarResult, Tune
from tunes.versions.chorus import flat, with_bars

RECENT, MOST = 8, 6


@dataclass(frozen=True, slots=True)
class MissedBar:
    """`bar` as played; `version` whose chart plays it so, 0 for a substitution by rule; `slots` are (chord, start, beats)."""

    bar: int
    version: int
    slots: tuple[tuple[str, str, str], ...]

    def to_json(self) -> list[Any]:
        return [self.bar, self.version, [list(slot) for slot in self.slots]]

    @classmethod
    def from_json(cls, row: Any) -> MissedBar:
        bar, version, slots = row
        return cls(int(bar), int(version), tuple((str(a), str(b), str(c)) for a, b, c in slots))


Missed = tuple[MissedBar, ...]


def missed_with_the_band(user: Any, tune: Tune, revision: ChartRevision) -> Missed:
    """What a player missed lately on this chart and has not heard since, newest first. One query."""
    rows = EarResult.objects.filter(player=user, tune=tune, kind=EarResult.Kind.OTHER_BAND).order_by("-pk")[:RECENT]
    found: dict[tuple[int, int], MissedBar] = {}
    heard: set[str] = set()
    for row in rows:
        if row.detail.get("revision") != revision.pk:
            continue
        for one in row.detail.get("missed", ()):
            if one.get("change") not in heard:
                bar = MissedBar.from_json([one["bar"], one["version"], one["chords"]])
                found.setdefault((bar.bar, bar.version), bar)
        heard |= set(row.detail.get("known", ()))
    return tuple(found.values())[:MOST]


def with_missed(chart: Chart, missed: Mapping[int, MissedBar]) -> Chart:
    """The chorus with what was played in the missed bars, by number as played."""
    chorus = flat(chart)
    changed = {
        at: tuple(
            Slot(parse_symbol(text).symbol, Fraction(start), Fraction(beats), text)
            for text, start, beats in found.slots
        )
        for at, bar in enumerate(chorus.bars)
        if (found := missed.get(bar.number)) is not None and not bar.is_pickup
    }
    return with_bars(chorus, changed)
