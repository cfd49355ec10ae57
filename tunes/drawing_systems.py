"""Where the bars of a section stand: systems of four on a desk, of two on a phone, of four on a phone drawn close.

A pickup stands in the margin before bar 1 and takes no place in a system. A second ending goes on in the system of the
first where it fits; otherwise it begins a system, and its last one is filled: two bars take half of it each, so that
nothing beside them is left blank and the bars still stand in a grid of four or two.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from tunes import chord_width
from tunes.drawing_views import DESK, PHONE, BarView, Spot
from tunes.harmony.charts import Bar

CLOSE = 4  # bars in a system of the close drawing on a phone
CLOSE_BAR = 89.5  # px: a quarter of a phone of 390 px within its margins
CLOSE_SIZES = (20, 19, 18, 17)  # px: sizes of the chords there, the largest first
BETWEEN, AROUND = 8, 11  # px: between two chords, and to both bar lines
SPANS: dict[int, dict[int, tuple[int, ...]]] = {
    4: {1: (4,), 2: (2, 2), 3: (1, 1, 2)},
    2: {1: (2,)},
}  # how a short system is filled, by its width and its bars


def in_systems(bars: Sequence[BarView], written_out: bool, close_size: int) -> tuple[BarView, ...]:
    """The bars of a section with their places in each kind of system."""
    desk, phone = _spots(bars, DESK, written_out), _spots(bars, PHONE, written_out)
    close = _spots(bars, CLOSE, written_out, lambda bar: _crowded(bar, close_size))
    return tuple(
        replace(bar, desk=d, phone=p, close=c, ems=wide(bar))
        for bar, d, p, c in zip(bars, desk, phone, close, strict=True)
    )


def close_size(bars: Sequence[BarView]) -> int:
    """The one size (px) of a chart drawn close: that with the fewest crowded bars, the larger where two have as few."""
    return min(CLOSE_SIZES, key=lambda size: (sum(_crowded(bar, size) for bar in bars), -size))


def wide(bar: BarView) -> float:
    """Width of all its chords together, in ems; of each as much as it is given elsewhere, too."""
    return sum(chord_width.given(slot.symbol) if slot.symbol else 1.5 for slot in bar.slots)


def _crowded(bar: BarView, size: int) -> bool:
    return wide(bar) * size + BETWEEN * (len(bar.slots) - 1) + AROUND > CLOSE_BAR


def _spots(
    bars: Sequence[BarView], width: int, written_out: bool, crowded: Callable[[BarView], bool] | None = None
) -> list[Spot]:
    rows = _rows(bars, width, written_out)
    found: list[Spot] = []
    for number, row in enumerate(rows):
        forced = number + 1 == len(rows) or rows[number + 1][0].opens_ending
        if row[0].bar.is_pickup:
            found.append(Spot(0, False))
        elif crowded and any(crowded(bar) for bar in row):
            found += [spot for at in range(0, len(row), 2) for spot in _spread((width // 2,) * len(row[at : at + 2]))]
        elif len(row) < width and row[-1].in_ending and forced and not written_out:
            found += _spread(SPANS[width][len(row)])
        else:
            found += _spread((1,) * len(row))
    return found


def _spread(spans: Sequence[int]) -> list[Spot]:
    return [Spot(1 + sum(spans[:at]), at == 0, span) for at, span in enumerate(spans)]


def _rows(bars: Sequence[BarView], width: int, written_out: bool) -> list[list[BarView]]:
    rows: list[list[BarView]] = []
    endings = 0  # endings of the passage so far
    for place, bar in enumerate(bars):
        if bar.bar.start_repeat:
            endings = 0
        endings += bar.opens_ending
        room = width - len(rows[-1]) if rows and not rows[-1][0].bar.is_pickup else 0
        later = bar.opens_ending and endings > 1 and not written_out
        if bar.bar.is_pickup or not room or (later and _length(bars, place) > room):
            rows.append([])
        rows[-1].append(bar)
    return rows


def _length(bars: Sequence[BarView], place: int) -> int:
    """Bars of the ending that opens at a place."""
    after = bars[place + 1 :]
    return 1 + next((at for at, bar in enumerate(after) if bar.opens_ending or not bar.in_ending), len(after))


def under_endings(bars: Sequence[Bar]) -> set[int]:
    """Indices of the bars that an ending's bracket covers: to its repeat sign, the last one as long as the first, and
    none past its section."""
    covered: set[int] = set()
    left, length, open_ = 0, 0, False
    for index, bar in enumerate(bars):
        if bar.start_repeat and not bar.endings:
            open_, length = False, 0
        if index and bar.section != bars[index - 1].section and not bar.endings:
            open_ = False
        if bar.endings:
            open_, left = True, length or len(bars)
            started = index
        if open_ and left:
            covered.add(index)
            left -= 1
            if bar.end_repeat:
                length = length or index - started + 1
                open_ = False
    return covered if length else {index for index, bar in enumerate(bars) if bar.endings}
