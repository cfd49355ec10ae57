"""How much room the chords of a chart leave, and what a line asks for."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from tunes.harmony.charts.model import Chart
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import degree_interval
from tunes.melody import degree_words

from .cut import CutLine, class_of

NEAR = 1e-6
_CLASHES = {
    "9": ("b9", "#9"), "b9": ("9",), "#9": ("9",), "13": ("b13", "#5"), "b13": ("13", "6"), "5": ("b5", "#5"), "b5": ("5",),
    "#5": ("5",), "#11": ("11", "4"), "11": ("#11",),
}  # fmt: skip
"""Degrees that a chart writes, and those of a line that then stand against them."""


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
            length = start_of(self, n + 1) - start_of(self, n)
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
    rooms = Rooms(
        array("d"), array("d"), array("d"), array("h"), array("H"), array("H"), float(time), _symbols(chart), []
    )
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
        return away < NEAR or (self.half > 0 and abs(away - self.half) < NEAR)


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


def start_of(rooms: Rooms, run: int) -> float:
    """When a run begins; runs past the last are those of the next chorus."""
    chorus, at = divmod(run, len(rooms.starts))
    return rooms.starts[at] + chorus * rooms.length


def runs_of(rooms: Rooms, event: int, need: Need) -> list[int]:
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


def has_room(rooms: Rooms, runs: Sequence[int], need: Need) -> bool:
    """Whether every note stands over its own chord, and the line lands where it did in the bar."""
    if not runs:
        return False
    size = len(rooms.starts)
    at = runs[need.landing] % size
    if not need.lands(rooms.in_bar[at]) or abs(rooms.bars[at] - need.bar) > NEAR:
        return False
    landing = start_of(rooms, runs[need.landing])
    for n, (low, high) in enumerate(zip(need.low, need.high, strict=True)):
        if low is None or high is None:
            continue
        end = start_of(rooms, runs[n + 1] if n + 1 < len(runs) else runs[n] + 1)
        if start_of(rooms, runs[n]) - landing > low + NEAR or end - landing < high - NEAR:
            return False
        if need.degrees[n] & rooms.against[runs[n] % size]:
            return False
    return True


def why_not_here(rooms: Rooms, runs: Sequence[int], need: Need, line: CutLine) -> str:
    """Why a line does not fit here, in words; "" if it does."""
    size = len(rooms.starts)
    at = runs[need.landing] % size
    if abs(rooms.bars[at] - need.bar) > NEAR:
        return f"bars here have {rooms.bars[at]:g} crotchets, the line is made for {need.bar:g}"
    if not need.lands(rooms.in_bar[at]):
        return f"the {line.chords[need.landing].words} comes on beat {rooms.in_bar[at] + 1:g} here, in the line on beat {need.in_bar + 1:g}"
    landing = start_of(rooms, runs[need.landing])
    for n, (low, high) in enumerate(zip(need.low, need.high, strict=True)):
        if low is None or high is None:
            continue
        start = start_of(rooms, runs[n]) - landing
        end = start_of(rooms, runs[n + 1] if n + 1 < len(runs) else runs[n] + 1) - landing
        if start > low + NEAR or end < high - NEAR:
            chord, lands = line.chords[n].words, line.chords[need.landing].words
            if n == need.landing:
                return f"the {chord} lasts {end - start:g} beats here, the line needs {high - start:g}"
            if start > low + NEAR:
                return f"the {chord} begins {-start:g} beats before the {lands} here, the line begins on it {-low:g} before"
            return f"the {chord} is over {-end:g} beats before the {lands} here, the line stays on it until {-high:g} before"
    return clash(line, [rooms.symbols[rooms.events[run % size]] for run in runs])


def clash(line: CutLine, symbols: Sequence[ChordSymbol | None]) -> str:
    """A degree of the line against what the chart writes, in words; "" if there is none. Notes that lead on do not count."""
    for note in line.notes:
        symbol = symbols[note.chord]
        if symbol is not None and note.degree in standing_degrees(line, note.chord) & _against(symbol.degrees):
            return f"the line has the {degree_words(note.degree)} where the chart writes {symbol.display}"
    return ""
