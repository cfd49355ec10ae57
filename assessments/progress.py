"""A player's progress as pictures, compared with their own past only. Pure: rows in, places on the paper out.

Units of a picture are those of its `viewBox`; weeks begin on Monday.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

WEEKS = 12
WIDTH, HEIGHT = 560, 150
LEFT, RIGHT, TOP, BOTTOM = 40, 12, 12, 24
MARGIN = 6  # beats a minute above and below what was played


@dataclass(frozen=True)
class Spot:
    """One week of a drill: where it stands in the picture, the week's Monday and the fastest tempo that held."""

    x: float
    y: float
    week: dt.date
    tempo: int


@dataclass(frozen=True)
class TempoLine:
    """One drill over the weeks. `rules` are the tempi with a line across: (y, tempo); `weeks` the ends of the axis."""

    title: str
    tune: str
    spots: tuple[Spot, ...]
    rules: tuple[tuple[float, int], ...]

    @property
    def path(self) -> str:
        """The line as an SVG path."""
        return " ".join(f"{'L' if place else 'M'}{spot.x:g} {spot.y:g}" for place, spot in enumerate(self.spots))

    @property
    def said(self) -> str:
        """The line in words."""
        first, last = self.spots[0], self.spots[-1]
        if len(self.spots) == 1:
            return f"{first.tempo} in the week of {first.week:%-d %b}"
        return (
            f"from {first.tempo} in the week of {first.week:%-d %b} to {last.tempo} in the week of {last.week:%-d %b}"
        )


def monday(day: dt.date) -> dt.date:
    """The Monday of a day's week.

    >>> monday(dt.date(2030, 3, 7)).isoformat()
    '2030-03-04'
    """
    return day - dt.timedelta(days=day.weekday())


def weeks_back(today: dt.date, count: int = WEEKS) -> tuple[dt.date, ...]:
    """The Mondays of the last weeks, the oldest first, this week included."""
    last = monday(today)
    return tuple(last - dt.timedelta(weeks=n) for n in range(count - 1, -1, -1))


def tempo_line(title: str, tune: str, played: Iterable[tuple[dt.date, int]], today: dt.date) -> TempoLine | None:
    """One drill: the fastest tempo of each week in which it held; None where no week of the last twelve has any."""
    best: dict[dt.date, int] = defaultdict(int)
    for day, tempo in played:
        best[monday(day)] = max(best[monday(day)], tempo)
    weeks = weeks_back(today)
    shown = [(week, best[week]) for week in weeks if week in best]
    if not shown:
        return None
    low, high = min(t for _, t in shown) - MARGIN, max(t for _, t in shown) + MARGIN
    spots = tuple(Spot(_x(weeks.index(week), len(weeks)), _y(tempo, low, high), week, tempo) for week, tempo in shown)
    rules = sorted({min(t for _, t in shown), max(t for _, t in shown)})
    return TempoLine(title, tune, spots, tuple((_y(tempo, low, high), tempo) for tempo in rules))


def _x(place: int, count: int) -> float:
    return round(LEFT + (WIDTH - LEFT - RIGHT) * place / max(1, count - 1), 1)


def _y(value: float, low: float, high: float) -> float:
    return round(HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * (value - low) / max(1, high - low), 1)


@dataclass(frozen=True)
class Step:
    """One term: how many tunes were known at its end (or are today), and where its step stands."""

    name: str
    known: int
    x: float
    y: float
    width: float
    height: float


def known_over_terms(
    terms: Sequence[tuple[str, dt.date]], learned: Iterable[dt.date], today: dt.date
) -> tuple[Step, ...]:
    """Terms as (name, last day), the oldest first, with how many tunes were known when each ended.

    >>> day = dt.date
    >>> found = known_over_terms([("Spring", day(2030, 6, 1)), ("Autumn", day(2030, 12, 1))],
    ...                          [day(2030, 3, 1), day(2030, 10, 1)], day(2030, 11, 1))
    >>> [(step.name, step.known) for step in found]
    [('Spring', 1), ('Autumn', 2)]
    """
    days = sorted(learned)
    counts = [sum(day <= min(ends, today) for day in days) for _, ends in terms]
    most, wide = 1.2 * max([*counts, 1]), (WIDTH - LEFT - RIGHT) / max(1, len(terms))
    return tuple(
        Step(name, count, round(LEFT + place * wide, 1), _y(count, 0, most), round(wide, 1),
             round(HEIGHT - BOTTOM - _y(count, 0, most), 1))
        for place, ((name, _), count) in enumerate(zip(terms, counts, strict=True))
    )  # fmt: skip


@dataclass(frozen=True)
class FailingBars:
    """The bars of one tune that still wait, by number, as a strip of the form."""

    tune: str
    tune_id: int
    bars: tuple[int, ...]
    cells: tuple[tuple[int, bool], ...]

    @property
    def width(self) -> int:
        return 14 * len(self.cells)

    @property
    def placed(self) -> tuple[tuple[int, int, bool], ...]:
        """(x, bar, whether it waits) of each cell."""
        return tuple((14 * place, bar, waits) for place, (bar, waits) in enumerate(self.cells))


def failing(tune: str, tune_id: int, bars: Iterable[int], end: int) -> FailingBars:
    """Bars as played; the strip is the whole chorus, to its last bar `end`."""
    wanted = tuple(sorted(set(bars)))
    return FailingBars(tune, tune_id, wanted, tuple((bar, bar in wanted) for bar in range(1, end + 1)))
