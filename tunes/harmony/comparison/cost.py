"""How far apart two bars are: 0 when they hold the same chords at the same time, 1 when nothing agrees.

Weights are ours; only their order matters: the same chord, the same root, chords that stand for each other
(tritone substitutes: Pease, *Jazz Composition*, 2003, p. 53; shared tones and related ii: common practice), anything else.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from tunes.harmony.charts.model import Chart
from tunes.harmony.chords.symbol import ChordSymbol

GAP_OPEN = 1.5  # dear enough that two choruses of one length stay in step (tests.bench.alignment)
GAP_EXTEND = 0.5

SAME_ROOT = 0.25
SAME_NOTES = 0.15
TRITONE = 0.3
SHARED_TONES = 0.4
RELATED = 0.45
SILENCE = 0.8
DIFFERENT = 1.0
_DETAIL = 0.02


@dataclass(frozen=True, slots=True)
class Sounding:
    """A chord in a bar: start and length as fractions of the bar; symbol None for no chord."""

    start: Fraction
    length: Fraction
    symbol: ChordSymbol | None

    @property
    def end(self) -> Fraction:
        return self.start + self.length


BarSound = tuple[Sounding, ...]


def bar_sounds(chart: Chart) -> list[BarSound]:
    """Every bar of the chorus, repeated chords joined."""
    return [_bar_sound(chart, place.bar) for place in chart.unfold()]


def _bar_sound(chart: Chart, index: int) -> BarSound:
    bar = chart.bars[index]
    found: list[Sounding] = []
    for slot in bar.slots:
        sounding = Sounding(slot.start / bar.beats, slot.duration / bar.beats, slot.symbol)
        if found and found[-1].symbol == sounding.symbol:
            found[-1] = Sounding(found[-1].start, found[-1].length + sounding.length, sounding.symbol)
        else:
            found.append(sounding)
    return tuple(found)


def is_dominant(symbol: ChordSymbol) -> bool:
    return symbol.family == "dominant" or (symbol.family == "suspended" and symbol.has("b7"))


def is_two(symbol: ChordSymbol, five: ChordSymbol) -> bool:
    """Whether a chord is the related ii of a dominant."""
    minor = symbol.family in ("minor", "half-diminished")
    return minor and is_dominant(five) and (symbol.root.pc - five.root.pc) % 12 == 7


def chord_distance(a: ChordSymbol | None, b: ChordSymbol | None) -> float:
    """0 for the same chord, 1 for chords that have nothing to do with each other.

    >>> from tunes.harmony.chords import parse_symbol
    >>> chord_distance(parse_symbol("G7").symbol, parse_symbol("Db7").symbol) < DIFFERENT
    True
    """
    if a is None or b is None:
        return 0.0 if a is b else SILENCE
    if a.root.pc == b.root.pc:
        return _same_root(a, b)
    if is_dominant(a) and is_dominant(b) and (a.root.pc - b.root.pc) % 12 == 6:
        return TRITONE
    if a.pcs == b.pcs:
        return SAME_NOTES
    if is_two(a, b) or is_two(b, a):
        return RELATED
    shared = len(a.pcs & b.pcs)
    return SHARED_TONES if shared >= 3 else DIFFERENT


def _same_root(a: ChordSymbol, b: ChordSymbol) -> float:
    detail = _DETAIL * ((a.degrees != b.degrees) + (a.bass != b.bass))
    return detail if a.family == b.family else SAME_ROOT + detail


def bar_distance(a: BarSound, b: BarSound) -> float:
    """Chord distances weighted by how long each pair sounds together."""
    if a == b:
        return 0.0
    cuts = sorted({s.start for s in a} | {s.start for s in b} | {Fraction(1)})
    total = 0.0
    at_a = at_b = 0
    for start, end in itertools.pairwise(cuts):
        at_a = _advance(a, at_a, start)
        at_b = _advance(b, at_b, start)
        total += float(end - start) * chord_distance(a[at_a].symbol, b[at_b].symbol)
    return total


def _advance(bar: BarSound, at: int, start: Fraction) -> int:
    while at + 1 < len(bar) and bar[at + 1].start <= start:
        at += 1
    return at


def root_histogram(bars: Sequence[BarSound]) -> list[float]:
    """Time spent on each root, for guessing how far two charts are transposed."""
    totals = [0.0] * 12
    for bar in bars:
        for sounding in bar:
            if sounding.symbol is not None:
                totals[sounding.symbol.root.pc] += float(sounding.length)
    return totals
