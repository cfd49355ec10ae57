"""What a bar is called: its number as played, with the written one second where they differ. One count everywhere.

Players speak of bars as played: the bridge of a 32-bar AABA is bar 17, though a chart that writes the repeated A once
prints another number there (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from tunes.harmony.charts import Chart
from tunes.harmony.charts.bar_count import played_numbers

PICKUP = "pickup"


def bar_name(played: int, written: int | None = None) -> str:
    """The name of one bar.

    >>> bar_name(12), bar_name(17, 9), bar_name(0)
    ('bar 12', 'bar 17 (written 9)', 'pickup')
    """
    if not played:
        return PICKUP
    return f"bar {played}" if written in (None, played) else f"bar {played} (written {written})"


def bars_named(numbers: Iterable[int]) -> str:
    """Several bars by their numbers as played.

    >>> bars_named([4]), bars_named([12, 4, 4]), bars_named([0, 4, 12, 28])
    ('bar 4', 'bars 4 and 12', 'the pickup, bars 4, 12 and 28')
    """
    found = sorted(set(numbers))
    named = [str(number) for number in found if number]
    words = [f"the {PICKUP}"] if 0 in found else []
    if named:
        listed = ", ".join(named[:-1]) + " and " + named[-1] if len(named) > 1 else named[0]
        words.append(f"bar{'s' if len(named) > 1 else ''} {listed}")
    return ", ".join(words)


def played_at(chart: Chart) -> tuple[int, ...]:
    """The number as played of the bar of every event of one chorus."""
    numbers = played_numbers(chart)
    return tuple(numbers[event.chorus_bar] for event in chart.events())


def name_at(chart: Chart, event: int) -> str:
    """The name of the bar in which an event sounds."""
    at = chart.events()[event]
    return bar_name(played_numbers(chart)[at.chorus_bar], chart.bars[at.bar].number)


def names_at(chart: Chart, events: Sequence[int]) -> str:
    """The bars in which these events sound, by their numbers as played."""
    played = played_at(chart)
    return bars_named(played[event] for event in events)
