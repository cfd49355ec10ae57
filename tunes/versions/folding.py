"""A chorus with its repeated sections once: blocks of bars in rows of four (a phone: two). Pure.

What a bar holds is the caller's: numbers on the memory sheet, chord symbols on the card. Sections with one letter that begin
alike for at least half of their bars are one block with endings (common practice of lead sheets: "1st time", "2nd time").
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from typing import Any

from tunes.harmony.charts import Chart
from tunes.harmony.charts.bar_count import BarCount, bar_count, stretch_name
from tunes.harmony.form.sections import FormSection

DESK, PHONE = 4, 2  # bars in a row
MANY = 40  # bars on one sheet, from which on they are set smaller
_COUNTED = {1: "once", 2: "twice", 3: "three times", 4: "four times"}
_ORDINAL = {1: "1st", 2: "2nd", 3: "3rd"}


@dataclass(frozen=True)
class Said:
    """One chord in a bar: as a number with words before and after it, or as what the card shows (`shown`).

    `key` says which key it is in where that changes.
    """

    number: str = ""
    before: str = ""
    after: str = ""
    key: str = ""
    shown: Any = None


@dataclass(frozen=True)
class FoldedBar:
    """A bar in its row: number as played the first time; columns from 1; the ending that begins here, "" for none."""

    number: int
    said: tuple[Said, ...]
    desk: int
    phone: int
    ending: str = ""
    under: bool = False  # part of an ending
    placed: bool = False  # begins a later ending: stands below the first one
    closes: bool = False


@dataclass(frozen=True)
class Block:
    """A section, or several that begin alike. `first` are the bars of the chorus at which each of them begins."""

    label: str
    place: str
    bars: tuple[FoldedBar, ...]
    first: tuple[int, ...]
    last: tuple[int, ...]
    times: tuple[str, ...]  # which ending each of them takes, "" where there is one
    pickup: tuple[Said, ...] = ()


def many(blocks: Sequence[Block]) -> bool:
    """Whether there are so many bars that they are set smaller."""
    return sum(len(block.bars) for block in blocks) > MANY


def folded(chart: Chart, sections: Sequence[FormSection], said: Sequence[tuple[Said, ...]]) -> tuple[Block, ...]:
    """The blocks of a chart. `said` holds what stands in every bar of `chart.unfold()`."""
    runs = [_bars_of(chart, section) for section in sections]
    groups: list[list[int]] = []
    for index, section in enumerate(sections):
        for group in groups:
            if sections[group[0]].letter == section.letter and _alike([runs[i] for i in (*group, index)], said):
                group.append(index)
                break
        else:
            groups.append([index])
    return tuple(_block(chart, [sections[i] for i in group], [runs[i] for i in group], said) for group in groups)


def _bars_of(chart: Chart, section: FormSection) -> range:
    """The bars of a section without its pickup."""
    order = chart.unfold()
    whole = range(section.first, section.first + section.bars)
    pickups = sum(1 for _ in takewhile(lambda bar: chart.bars[order[bar].bar].is_pickup, whole))
    return whole[pickups:]


def _common(runs: Sequence[range], said: Sequence[tuple[Said, ...]]) -> int:
    """How many bars all of them have alike from the beginning."""
    columns = zip(*([said[bar] for bar in run] for run in runs), strict=False)
    return sum(1 for _ in takewhile(lambda column: all(one == column[0] for one in column), columns))


def _alike(runs: Sequence[range], said: Sequence[tuple[Said, ...]]) -> bool:
    return 2 * _common(runs, said) >= max(len(run) for run in runs) > 0


def _block(
    chart: Chart, sections: Sequence[FormSection], runs: Sequence[range], said: Sequence[tuple[Said, ...]]
) -> Block:
    count, common = bar_count(chart), _common(runs, said)
    tails: dict[tuple[tuple[Said, ...], ...], list[int]] = {}
    for index, run in enumerate(runs):
        tails.setdefault(tuple(said[bar] for bar in run[common:]), []).append(index)
    names = {tail: times_said(which, len(runs)) if len(tails) > 1 else "" for tail, which in tails.items()}
    bars = _rows([(count.chorus[bar], said[bar]) for bar in runs[0][:common]], 0)
    if bars and len(tails) > 1:
        bars[-1] = replace(bars[-1], closes=False)
    for tail, which in tails.items():
        numbers = [count.chorus[bar] for bar in runs[which[0]][common:]]
        placed = any(bar.under for bar in bars)
        bars += _rows(list(zip(numbers, tail, strict=True)), common, names[tail], placed)
    taken = {index: names[tail] for tail, which in tails.items() for index in which}
    pickup = range(sections[0].first, runs[0].start)
    return Block(
        label=" ".join(dict.fromkeys(section.label or section.letter for section in sections)),
        place=_place(chart, runs, count),
        bars=tuple(bars),
        first=tuple(run.start for run in runs),
        last=tuple(run.stop - 1 for run in runs),
        times=tuple(taken[index] for index in range(len(runs))),
        pickup=tuple(one for bar in pickup for one in said[bar]),
    )


def _rows(
    bars: list[tuple[int, tuple[Said, ...]]], after: int, ending: str = "", placed: bool = False
) -> list[FoldedBar]:
    """Bars in their columns, `after` that many that stand before them."""
    return [
        FoldedBar(
            number, said, (after + place) % DESK + 1, (after + place) % PHONE + 1,
            ending=ending if not place else "", under=bool(ending), placed=placed and not place,
            closes=place == len(bars) - 1,
        )
        for place, (number, said) in enumerate(bars)
    ]  # fmt: skip


def _place(chart: Chart, runs: Sequence[range], count: BarCount) -> str:
    """Where a block stands: "once: bars 9 to 13 (written 7)", "three times: bars 1, 9 and 25"."""
    firsts = [count.chorus[run.start] for run in runs]
    written = chart.bars[chart.unfold()[runs[0].start].bar].number
    besides = "" if written == firsts[0] else f" (written {written})"
    times = _COUNTED.get(len(runs), f"{len(runs)} times")
    if len(runs) == 1:
        return f"{times}: {stretch_name(firsts[0], count.chorus[runs[0].stop - 1])}{besides}"
    words = [str(number) for number in firsts]
    return f"{times}: bars {', '.join(words[:-1])} and {words[-1]}{besides}"


def times_said(which: Sequence[int], of: int) -> str:
    """Which times an ending is played, counted from 0, as players say it.

    >>> times_said([0], 2), times_said([1, 2], 3), times_said([3], 4), times_said([0, 1], 3)
    ('1st time', '2nd time, and last', 'last time', '1st and 2nd time')
    """
    last = of - 1 in which and of > 2
    counted = [f"{_ORDINAL.get(i + 1, f'{i + 1}th')}" for i in which if not last or i != of - 1]
    if not counted:
        return "last time"
    return f"{' and '.join(counted)} time" + (", and last" if last else "")
