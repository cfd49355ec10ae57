"""Two or more versions of a tune laid beside each other, bar by bar, in one key. Pure.

The alignment and the names of differences are `tunes.harmony.comparison.variants`; here they are brought into one
table, and each difference is turned into what a player does about it: other guide tones, other scales.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tunes.engine import analyse
from tunes.harmony.analysis.pipeline import Reading
from tunes.harmony.charts import Chart, Event, transpose_chart
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.comparison.variants import Alignment, Difference, Row, align
from tunes.harmony.pitch.spelling import NoteName
from tunes.harmony.scales.scales import ScaleChoice, scale_for

Chords = tuple[ChordSymbol | None, ...]


@dataclass(frozen=True)
class Played:
    """A chord and what one plays over it: its 3rd and 7th, its scale; `reading` is what it does there."""

    symbol: ChordSymbol
    guide: tuple[NoteName, ...]
    scale: ScaleChoice
    reading: Reading


@dataclass(frozen=True)
class Cell:
    """One version's bar beside the first version's: its chords, how they differ, what a player plays then."""

    chords: Chords
    differences: tuple[Difference, ...] = ()
    played: tuple[Played, ...] = ()
    missing: bool = False

    @property
    def same(self) -> bool:
        return not self.missing and all(difference.kind == "colour" for difference in self.differences)


@dataclass(frozen=True)
class Line:
    """One bar of the table. `number` is the first version's, as played; None for a bar it does not have; `written` the number
    on paper where that is another."""

    number: int | None
    section: str
    first: Chords
    played: tuple[Played, ...]
    cells: tuple[Cell, ...]
    written: int | None = None

    @property
    def same(self) -> bool:
        return self.number is not None and all(cell.same for cell in self.cells)


@dataclass(frozen=True)
class Stretch:
    """Lines that belong together on the page: a run where nothing differs, folded, or one line that differs."""

    lines: tuple[Line, ...]
    folded: bool

    @property
    def first(self) -> int | None:
        return self.lines[0].number

    @property
    def last(self) -> int | None:
        return self.lines[-1].number


@dataclass(frozen=True)
class SideBySide:
    """The whole table; `alignments` in the order of the other versions."""

    lines: tuple[Line, ...]
    alignments: tuple[Alignment, ...]

    @property
    def stretches(self) -> tuple[Stretch, ...]:
        return fold(self.lines)

    @property
    def differing(self) -> int:
        return sum(1 for line in self.lines if not line.same)


class _Side:
    """A chart in the table's key with its analysis, by bar of the chorus."""

    def __init__(self, chart: Chart) -> None:
        self.chart = chart
        self.order = chart.unfold()
        analysis = analyse(chart)
        self.by_bar: dict[int, list[tuple[Event, Reading]]] = {}
        for event in chart.events():
            self.by_bar.setdefault(event.chorus_bar, []).append((event, analysis.readings[event.index]))

    def chords(self, bar: int) -> Chords:
        found: list[ChordSymbol | None] = []
        for event, _reading in self.by_bar.get(bar, []):
            if not found or found[-1] != event.symbol:
                found.append(event.symbol)
        return tuple(found)

    def played(self, bar: int) -> tuple[Played, ...]:
        found: list[Played] = []
        for event, reading in self.by_bar.get(bar, []):
            if event.symbol is not None and (not found or found[-1].symbol != event.symbol):
                found.append(Played(event.symbol, guide_tones(event.symbol), scale_for(event.symbol, reading), reading))
        return tuple(found)

    def section(self, bar: int) -> str:
        return self.order[bar].section_label


def guide_tones(symbol: ChordSymbol) -> tuple[NoteName, ...]:
    """3rd and 7th, or what stands for them."""
    return tuple(note for note in (symbol.third, symbol.seventh) if note is not None)


def side_by_side(first: Chart, others: Sequence[Chart]) -> SideBySide:
    """Every other chart beside the first, in the first one's key."""
    alignments = tuple(align(first, other) for other in others)
    base = _Side(first)
    sides = [_Side(transpose_chart(o, a.interval)) for o, a in zip(others, alignments, strict=True)]
    lines: list[Line] = []
    numbers = bar_count(first).chorus
    for bar in range(-1, len(base.order)):
        if bar >= 0:
            cells = tuple(_cell(side, a, bar) for side, a in zip(sides, alignments, strict=True))
            written = first.bars[base.order[bar].bar].number
            other = written if written != numbers[bar] else None
            lines.append(Line(numbers[bar], base.section(bar), base.chords(bar), base.played(bar), cells, other))
        for number, (side, alignment) in enumerate(zip(sides, alignments, strict=True)):
            lines += _inserted(side, alignment, bar, number, len(sides))
    return SideBySide(tuple(lines), alignments)


def _cell(side: _Side, alignment: Alignment, bar: int) -> Cell:
    row = next((row for row in alignment.rows if row.a == bar), None)
    if row is None or row.b is None:
        return Cell((), row.differences if row else (), missing=True)
    return Cell(side.chords(row.b), row.differences, side.played(row.b))


def _inserted(side: _Side, alignment: Alignment, after: int, number: int, count: int) -> list[Line]:
    """Bars that only one version has, behind bar `after` of the first one."""
    lines: list[Line] = []
    last: int | None = -1
    for row in alignment.rows:
        if row.a is not None:
            last = row.a
        elif last == after and row.b is not None:
            lines.append(Line(None, side.section(row.b), (), (), _one_of(row, side, number, count)))
    return lines


def _one_of(row: Row, side: _Side, number: int, count: int) -> tuple[Cell, ...]:
    assert row.b is not None
    own = Cell(side.chords(row.b), row.differences, side.played(row.b))
    return tuple(own if place == number else Cell((), missing=True) for place in range(count))


def fold(lines: Sequence[Line], keep: int = 1) -> tuple[Stretch, ...]:
    """Runs of more than `keep` bars without a difference folded into one stretch."""
    out: list[Stretch] = []
    run: list[Line] = []

    def close() -> None:
        if len(run) > keep:
            out.append(Stretch(tuple(run), True))
        else:
            out.extend(Stretch((line,), False) for line in run)
        run.clear()

    for line in lines:
        if line.same:
            if run and line.section != run[-1].section:
                close()
            run.append(line)
            continue
        close()
        out.append(Stretch((line,), False))
    close()
    return tuple(out)


def what_changes(old: Sequence[Played], new: Sequence[Played]) -> tuple[Played, ...]:
    """The chords of the new bar over which guide tones or scale are not those of the old bar."""
    known = {(p.guide, p.scale.root, p.scale.scale) for p in old}
    return tuple(p for p in new if (p.guide, p.scale.root, p.scale.scale) not in known)
