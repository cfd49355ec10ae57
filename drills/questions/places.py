"""Where a chord stands, for prompts and feedback: bar, beat, section, pass through a repeat."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from tunes.harmony.charts.bar_count import bar_count, bar_name
from tunes.harmony.charts.model import Chart


@dataclass(frozen=True, slots=True)
class Place:
    """Written bar number, beat from 1 as text, section label, pass through the repeat (from 1), and the number of the
    bar as played, which it goes by (`tunes.harmony.charts.bar_count`)."""

    bar: int
    beat: str
    section: str
    pass_no: int
    played: int

    @property
    def text(self) -> str:
        """ "Bar 17 (written 9), beat 3"; the beat is left out on the first."""
        beat = "" if self.beat == "1" else f", beat {self.beat}"
        return bar_name(self.played, self.bar).capitalize() + beat


def places(chart: Chart) -> tuple[Place, ...]:
    """The place of every event of one chorus."""
    chorus, played = chart.unfold(), bar_count(chart).chorus
    seen: dict[int, int] = {}
    passes: list[int] = []
    for one in chorus:
        seen[one.bar] = seen.get(one.bar, 0) + 1
        passes.append(seen[one.bar])
    return tuple(
        Place(
            chart.bars[event.bar].number,
            beat_text(event.onset),
            chorus[event.chorus_bar].section_label,
            passes[event.chorus_bar],
            played[event.chorus_bar],
        )
        for event in chart.events()
    )


def beat_text(onset: Fraction) -> str:
    """Beats count from 1: an onset of 5/2 is beat "3½"."""
    whole, rest = divmod(onset + 1, 1)
    return f"{whole}{_FRACTIONS.get(rest, '' if rest == 0 else f' {rest}')}"


_FRACTIONS = {
    Fraction(1, 2): "½",
    Fraction(1, 3): "⅓",
    Fraction(2, 3): "⅔",
    Fraction(1, 4): "¼",
    Fraction(3, 4): "¾",
}


def sections_of(chart: Chart) -> tuple[tuple[str, int, int], ...]:
    """The sections of one chorus as played: (label, first chorus bar, bars).  A repeated section counts each time."""
    found: list[list[Any]] = []
    last: tuple[int, int] | None = None
    previous = -1
    for one in chart.unfold():
        if chart.bars[one.bar].is_pickup:
            continue
        mark = (chart.bars[one.bar].section, one.pass_no)
        jumped_back = one.bar <= previous
        if last is None or mark[0] != last[0] or jumped_back:
            found.append([one.section_label, one.index, 0])
        found[-1][2] += 1
        last, previous = mark, one.bar
    return tuple((label, first, bars) for label, first, bars in found)
