"""The two counts of bars: as written (a repeated section is printed once) and as played (it counts each time).

Players speak of bars as played: the bridge of a 32-bar AABA is bar 17, though a chart that writes the repeated A
once prints another number there (common practice, no source). A pickup bar is 0 in both.
"""

from __future__ import annotations

from tunes.harmony.charts.model import Chart


def played_numbers(chart: Chart) -> tuple[int, ...]:
    """The number as played of every bar of one chorus, in playing order."""
    numbers: list[int] = []
    for one in chart.unfold():
        numbers.append(0 if chart.bars[one.bar].is_pickup else max(numbers, default=0) + 1)
    return tuple(numbers)


def first_played(chart: Chart) -> dict[int, int]:
    """Index of a bar in `Chart.bars` → its number as played, the first time it is reached."""
    found: dict[int, int] = {}
    for one, number in zip(chart.unfold(), played_numbers(chart), strict=True):
        found.setdefault(one.bar, number)
    return found


def played_by_written(chart: Chart) -> dict[int, int]:
    """Printed number → number as played, where the two differ."""
    bars = chart.bars
    return {bars[index].number: number for index, number in first_played(chart).items() if bars[index].number != number}
