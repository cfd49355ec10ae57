"""Where a line can stand: every place of a repertoire with its functions, and whether there is room.

The index of progressions finds the functions; `Rooms` keeps for every chart how long each root lasts and where its
bars begin, so that a place is checked by a few comparisons and nothing is built until it is looked at.
"""

from __future__ import annotations

from array import array
from collections.abc import Container, Hashable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Generic, TypeVar

from tunes.harmony.charts.model import Chart
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import degree_interval
from tunes.harmony.progressions.index import IdiomIndex
from tunes.harmony.readings.reading import Analysis
from tunes.melody import degree_words

from .cut import CutLine, class_of

Name = TypeVar("Name", bound=Hashable)
_NEAR = 1e-6
_CLASHES = {
    "9": ("b9", "#9"), "b9": ("9",), "#9": ("9",), "13": ("b13", "#5"), "b13": ("13", "6"), "5": ("b5", "#5"), "b5": ("5",),
    "#5": ("5",), "#11": ("11", "4"), "11": ("#11",),
}  # fmt: skip
"""Degrees that a chart writes, and those of a line that then stand against them."""


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


@dataclass(frozen=True, slots=True)
class Rooms:
    """How long the chords of one chorus last.

    Per run of events on one root with one class: start in crotchets, place in its bar, length of that bar, root, first
    event, degrees that stand against what the chart writes; per event its run.
    """

    starts: array[float]
    in_bar: array[float]
    bars: array[float]
    roots: array[int]
    events: array[int]
    run_of: array[int]
    length: float
    symbols: tuple[ChordSymbol | None, ...]
    against: list[frozenset[str]]

    def shape(self, run: int) -> Shape:
        """What decides whether a line fits at a run: places, lengths, distances and colours of the runs from there on."""
        size = len(self.starts)
        found = []
        for n in range(run, run + SEEN):
            at = n % size
            length = _start(self, n + 1) - _start(self, n)
            found.append((self.in_bar[at], self.bars[at], length, (self.roots[at] - self.roots[run]) % 12 if self.roots[at] >= 0 else -1,
                          self.against[at]))  # fmt: skip
        return tuple(found)


Shape = tuple[tuple[float, float, float, int, frozenset[str]], ...]
SEEN = 6
"""Runs that a shape holds; a line over more is checked place by place."""


def rooms_of(chart: Chart) -> Rooms:
    """The runs of a chart's chorus, its pickup left out of the count of time."""
    bars = chart.unfold()
    at: dict[int, Fraction] = {}
    time = Fraction(0)
    for bar in bars:
        at[bar.index] = time
        written = chart.bars[bar.bar]
        time += written.beats * Fraction(4, written.metre.unit)
    rooms = Rooms(array("d"), array("d"), array("d"), array("h"), array("H"), array("H"), float(time), _symbols(chart), [])
    last: tuple[int, str] | None = None
    for event, symbol in zip(chart.events(), rooms.symbols, strict=True):
        run = (symbol.root.pc, class_of(symbol)) if symbol else (-1, "")
        if run != last:
            offset = event.onset * Fraction(4, event.metre.unit)
            rooms.starts.append(float(at[event.chorus_bar] + offset))
            rooms.in_bar.append(float(offset))
            rooms.bars.append(float(event.metre.quarters))
            rooms.roots.append(run[0])
            rooms.events.append(event.index)
            rooms.against.append(_against(symbol.degrees) if symbol else frozenset())
            last = run
        rooms.run_of.append(len(rooms.starts) - 1)
    return rooms


@lru_cache(maxsize=4096)
def _against(degrees: tuple[str, ...]) -> frozenset[str]:
    """Degrees of a line that stand against those that a chart writes."""
    return frozenset(d for written in degrees for d in _CLASHES.get(written, ()) if d not in degrees)


def _symbols(chart: Chart) -> tuple[ChordSymbol | None, ...]:
    """What sounds at each event: a chord held over the barline goes on."""
    found: list[ChordSymbol | None] = []
    for event in chart.events():
        held = event.symbol is None and event.text == "/" and found
        found.append(found[-1] if held else event.symbol)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Need:
    """What a line asks of a place: for each chord the first and last time it has notes (crotchets from the landing, None for
    a chord without notes), which chord the landing is, the distances of the roots, where in the bar it lands, and the degrees
    that stand for themselves over each chord."""

    low: tuple[float | None, ...]
    high: tuple[float | None, ...]
    landing: int
    moves: tuple[int, ...]
    in_bar: float
    bar: float
    degrees: tuple[frozenset[str], ...]
    half: float = 0.0

    def lands(self, in_bar: float) -> bool:
        """Whether a place in the bar is where the line landed, or half a bar from it where that is allowed."""
        away = abs(in_bar - self.in_bar)
        return away < _NEAR or (self.half > 0 and abs(away - self.half) < _NEAR)


def need_of(line: CutLine, half_bars: bool = False) -> Need:
    low: list[float | None] = [None] * len(line.chords)
    high: list[float | None] = [None] * len(line.chords)
    for note in line.notes:
        at, end = float(note.at), float(_own_end(line, note.chord, note.at, note.end))
        low[note.chord] = at if low[note.chord] is None else min(low[note.chord] or 0.0, at)
        high[note.chord] = end if high[note.chord] is None else max(high[note.chord] or 0.0, end)
    pcs = [degree_interval(chord.degree).semitones % 12 for chord in line.chords]
    landing = max(note.chord for note in line.notes)
    moves = tuple((b - pcs[0]) % 12 for b in pcs)
    standing = tuple(standing_degrees(line, n) for n in range(len(line.chords)))
    half = float(line.bar) / 2 if half_bars and (line.bar / line.beat) % 2 == 0 else 0.0
    return Need(tuple(low), tuple(high), landing, moves, float(line.landing), float(line.bar), standing, half)


def standing_degrees(line: CutLine, chord: int) -> frozenset[str]:
    """What stands for itself over a chord, but for what already stood against the chart that the line is from."""
    degrees = {note.degree for note in line.notes if note.chord == chord and note.leads is None}
    return frozenset(degrees) - _against(line.chords[chord].written)


def _own_end(line: CutLine, chord: int, at: Fraction, end: Fraction) -> Fraction:
    """The end of a note over its own chord: one that is held over the change needs no room after it."""
    return min(end, line.chords[chord].end) if line.chords[chord].end > at else end


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

    def __len__(self) -> int:
        return len(self._rows)

    def __getitem__(self, index):  # type: ignore[no-untyped-def]
        if isinstance(index, slice):
            return [self._built(*row) for row in self._rows[index]]
        return self._built(*self._rows[index])

    def _built(self, name: Name, event: int) -> tuple[Name, Place]:
        rooms = self._rooms[name]
        runs = _runs(rooms, event, self._need)
        why = _why_not(rooms, runs, self._need, self._line) if runs else "its chords lie differently here"
        moved = bool(runs) and abs(rooms.in_bar[runs[self._need.landing] % len(rooms.starts)] - self._need.in_bar) > _NEAR
        return name, replace(_place(rooms, event, runs, why), moved=moved and not why)


def _place(rooms: Rooms, event: int, runs: Sequence[int], why: str) -> Place:
    starts = tuple(_fraction(_start(rooms, run)) for run in runs)
    ends = _fraction(_start(rooms, runs[-1] + 1)) if runs else Fraction(0)
    events = tuple(rooms.events[run % len(rooms.starts)] for run in runs)
    return Place(event, events, starts, ends, why)


def _fraction(time: float) -> Fraction:
    return Fraction(time).limit_denominator(960)


def _start(rooms: Rooms, run: int) -> float:
    """When a run begins; runs past the last are those of the next chorus."""
    chorus, at = divmod(run, len(rooms.starts))
    return rooms.starts[at] + chorus * rooms.length


def _runs(rooms: Rooms, event: int, need: Need) -> list[int]:
    """For each chord of the line the run that begins it, none if the roots are not those of the line."""
    size = len(rooms.starts)
    run = rooms.run_of[event]
    root = rooms.roots[run]
    found: list[int] = []
    for n, move in enumerate(need.moves):
        wanted = (root + move) % 12
        while n and run - found[-1] <= size and rooms.roots[run % size] == rooms.roots[found[-1] % size] != wanted:
            run += 1
        if rooms.roots[run % size] != wanted or run >= 3 * size:
            return []
        found.append(run)
        run += 1
    return found


def _has_room(rooms: Rooms, runs: Sequence[int], need: Need) -> bool:
    """Whether every note stands over its own chord, and the line lands where it did in the bar."""
    if not runs:
        return False
    size = len(rooms.starts)
    at = runs[need.landing] % size
    if not need.lands(rooms.in_bar[at]) or abs(rooms.bars[at] - need.bar) > _NEAR:
        return False
    landing = _start(rooms, runs[need.landing])
    for n, (low, high) in enumerate(zip(need.low, need.high, strict=True)):
        if low is None or high is None:
            continue
        end = _start(rooms, runs[n + 1] if n + 1 < len(runs) else runs[n] + 1)
        if _start(rooms, runs[n]) - landing > low + _NEAR or end - landing < high - _NEAR:
            return False
        if need.degrees[n] & rooms.against[runs[n] % size]:
            return False
    return True


def _why_not(rooms: Rooms, runs: Sequence[int], need: Need, line: CutLine) -> str:
    """Why a line does not fit here, in words; "" if it does."""
    size = len(rooms.starts)
    at = runs[need.landing] % size
    if abs(rooms.bars[at] - need.bar) > _NEAR:
        return f"bars here have {rooms.bars[at]:g} crotchets, the line is made for {need.bar:g}"
    if not need.lands(rooms.in_bar[at]):
        return f"the {line.chords[need.landing].words} comes on beat {rooms.in_bar[at] + 1:g} here, in the line on beat {need.in_bar + 1:g}"
    landing = _start(rooms, runs[need.landing])
    for n, (low, high) in enumerate(zip(need.low, need.high, strict=True)):
        if low is None or high is None:
            continue
        start = _start(rooms, runs[n]) - landing
        end = _start(rooms, runs[n + 1] if n + 1 < len(runs) else runs[n] + 1) - landing
        if start > low + _NEAR or end < high - _NEAR:
            asks = max(high, end) - min(low, start) if start > low + _NEAR else high - start
            return f"the {line.chords[n].words} has {end - start:g} beats here, the line needs {asks:g}"
    return clash(line, [rooms.symbols[rooms.events[run % size]] for run in runs])


def clash(line: CutLine, symbols: Sequence[ChordSymbol | None]) -> str:
    """A degree of the line against what the chart writes, in words; "" if there is none. Notes that lead on do not count."""
    for note in line.notes:
        symbol = symbols[note.chord]
        if symbol is not None and note.degree in standing_degrees(line, note.chord) & _against(symbol.degrees):
            return f"the line has the {degree_words(note.degree)} where the chart writes {symbol.display}"
    return ""


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
                runs = _runs(self._rooms[name], event, need)
                fits = _has_room(self._rooms[name], runs, need)
                if short and (not runs or runs[-1] - runs[0] < SEEN - 1):
                    known[shape] = fits
            (fitting if fits else others).append((name, event))
        return Places(line, need, self._rooms, fitting, others)
