"""Where a line can stand: every place of a repertoire with its functions, and whether there is room.

The index of progressions finds the functions; `Rooms` keeps for every chart how long each root lasts and where its
bars begin, so that a place is checked by a few comparisons and nothing is built until it is looked at.
"""

from __future__ import annotations

from array import array
from collections.abc import Container, Hashable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Generic, TypeVar, overload

from tunes.harmony.charts.model import Chart
from tunes.harmony.progressions.index import IdiomIndex
from tunes.harmony.readings.reading import Analysis

from .cut import CutLine
from .rooms import (
    NEAR,
    SEEN,
    Need,
    Rooms,
    Shape,
    has_room,
    need_of,
    rooms_of,
    runs_of,
    start_of,
    why_not_here,
)

Name = TypeVar("Name", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Place:
    """One place for a line in a chart.

    first     event where its functions begin; events  for each chord of the line the event that begins it.
    starts    crotchets from the top of the chorus where each of them begins; ends  where the last one ends. A place may run
              through the repeat of the form: times then go on past its end.
    why_not   "" where the line fits; else why it does not, in words. moved  it lands half a bar from where it did.
    """

    first: int
    events: tuple[int, ...]
    starts: tuple[Fraction, ...]
    ends: Fraction
    why_not: str = ""
    moved: bool = False

    @property
    def fits(self) -> bool:
        return not self.why_not


class Places(Sequence[tuple[Name, Place]], Generic[Name]):
    """Every place of a line: those where it fits first, each group chart by chart. A place is built when it is read."""

    def __init__(
        self, line: CutLine, need: Need, rooms: dict[Name, Rooms], fitting: Sequence[tuple[Name, int]],
        others: Sequence[tuple[Name, int]],
    ) -> None:  # fmt: skip
        self._line, self._rooms, self._need = line, rooms, need
        self._rows = [*fitting, *others]
        self.fitting = len(fitting)

    def within(self, names: Container[Name]) -> Places[Name]:
        """The places in these charts alone."""
        fitting = [row for row in self._rows[: self.fitting] if row[0] in names]
        others = [row for row in self._rows[self.fitting :] if row[0] in names]
        return Places(self._line, self._need, self._rooms, fitting, others)

    def by_chart(self) -> list[tuple[Name, Places[Name]]]:
        """The places of every chart for themselves: charts where the line fits somewhere first, in the order of the index."""
        rows: dict[Name, tuple[list[tuple[Name, int]], list[tuple[Name, int]]]] = {}
        for number, row in enumerate(self._rows):
            rows.setdefault(row[0], ([], []))[number >= self.fitting].append(row)
        return [(name, Places(self._line, self._need, self._rooms, *both)) for name, both in rows.items()]

    def __len__(self) -> int:
        return len(self._rows)

    @overload
    def __getitem__(self, index: int) -> tuple[Name, Place]: ...

    @overload
    def __getitem__(self, index: slice) -> list[tuple[Name, Place]]: ...

    def __getitem__(self, index: int | slice) -> tuple[Name, Place] | list[tuple[Name, Place]]:
        if isinstance(index, slice):
            return [self._built(*row) for row in self._rows[index]]
        return self._built(*self._rows[index])

    def _built(self, name: Name, event: int) -> tuple[Name, Place]:
        rooms = self._rooms[name]
        runs = runs_of(rooms, event, self._need)
        why = why_not_here(rooms, runs, self._need, self._line) if runs else "its chords lie differently here"
        moved = (
            bool(runs) and abs(rooms.in_bar[runs[self._need.landing] % len(rooms.starts)] - self._need.in_bar) > NEAR
        )
        return name, replace(_place(rooms, event, runs, why), moved=moved and not why)


def _place(rooms: Rooms, event: int, runs: Sequence[int], why: str) -> Place:
    starts = tuple(_fraction(start_of(rooms, run)) for run in runs)
    ends = _fraction(start_of(rooms, runs[-1] + 1)) if runs else Fraction(0)
    events = tuple(rooms.events[run % len(rooms.starts)] for run in runs)
    return Place(event, events, starts, ends, why)


def _fraction(time: float) -> Fraction:
    return Fraction(time).limit_denominator(960)


class VocabularyIndex(Generic[Name]):
    """The charts of a repertoire, ready to be asked where a line can stand."""

    def __init__(self) -> None:
        self._index: IdiomIndex[Name] = IdiomIndex()
        self._rooms: dict[Name, Rooms] = {}
        self._shapes: dict[Shape, int] = {}
        self._shape_of: dict[Name, array[int]] = {}

    def __len__(self) -> int:
        return len(self._index)

    def add(self, name: Name, chart: Chart, analysis: Analysis) -> None:
        """File a chart, or file it anew."""
        self.file(name, rooms_of(chart), analysis)

    def file(self, name: Name, rooms: Rooms, analysis: Analysis) -> None:
        self._index.add(name, analysis)
        self._rooms[name] = rooms
        ids = [self._shapes.setdefault(rooms.shape(run), len(self._shapes)) for run in range(len(rooms.starts))]
        self._shape_of[name] = array("L", [ids[run] for run in rooms.run_of])

    def discard(self, name: Name) -> None:
        self._index.discard(name)
        self._rooms.pop(name, None)
        self._shape_of.pop(name, None)

    def find(self, line: CutLine, half_bars: bool = False) -> Places[Name]:
        """Every place with the functions of a line: where there is room first.

        With half_bars the line may land half a bar from where it did (in a bar that has a middle on a beat).
        """
        need = need_of(line, half_bars)
        fitting: list[tuple[Name, int]] = []
        others: list[tuple[Name, int]] = []
        known: dict[int, bool] = {}
        short = len(line.chords) < SEEN - 1
        shapes = self._shape_of
        for name, event in self._index.find(line.idiom).spots():
            shape = shapes[name][event]
            fits = known.get(shape)
            if fits is None:
                runs = runs_of(self._rooms[name], event, need)
                fits = has_room(self._rooms[name], runs, need)
                if short and (not runs or runs[-1] - runs[0] < SEEN - 1):
                    known[shape] = fits
            (fitting if fits else others).append((name, event))
        return Places(line, need, self._rooms, fitting, others)
