"""Chords over another bass that a player hears as one suspended dominant: Dm7/G and F/G are G9sus, Gm7/A is A7sus(b9).

Sources: vm7/I is 9sus in every table of symbols; a triad or major seventh over the bass a whole step above its root is the
same chord without its 5th, and the minor one its form in minor, with flat 9 and flat 13 (common practice, no single source).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import groupby

from tunes.harmony.chords.reader import parse_symbol
from tunes.harmony.chords.symbol import ChordSymbol

_FOURTH, _WHOLE_STEP = 5, 2


@lru_cache(maxsize=4096)
def heard_as(symbol: ChordSymbol) -> ChordSymbol:
    """The symbol whose root is the bass, when that is what is heard; else the symbol itself.

    >>> from tunes.harmony.chords import parse_symbol
    >>> [heard_as(parse_symbol(t).symbol).text for t in ("Dm7/G", "F/G", "Fmaj7/G", "C/E", "Gm7/A", "Fm7/Bb")]
    ['G9sus4', 'G9sus4', 'G9sus4', 'C/E', 'A7sus4(b9,b13)', 'Bb9sus4']
    """
    if symbol.bass is None:
        return symbol
    above = (symbol.bass.pc - symbol.root.pc) % 12
    minor_seventh = symbol.family == "minor" and symbol.has("b7") and above == _FOURTH
    major = symbol.family == "major" and above == _WHOLE_STEP
    if symbol.family == "minor" and above == _WHOLE_STEP:
        return parse_symbol(f"{symbol.bass.text}7sus4(b9,b13)").symbol or symbol
    if not minor_seventh and not major:
        return symbol
    return parse_symbol(f"{symbol.bass.text}9sus4").symbol or symbol


def over_a_pedal(symbols: Sequence[ChordSymbol | None]) -> frozenset[int]:
    """The places of chords over a tonic that is held in the bass: there F/G is flat 7 over 1, and nothing is suspended.

    The held note is the root of a major or minor chord with which the run begins, and the chord after the one asked about
    stands over the same bass and is no dominant on it.

    >>> from tunes.harmony.chords import parse_symbol
    >>> symbols = [parse_symbol(text).symbol for text in ("C", "Bb/C", "C6", "Dm7", "F/G", "G7", "C")]
    >>> sorted(over_a_pedal(symbols))
    [1]
    """
    found: set[int] = set()
    for bass, group in groupby(range(len(symbols)), key=lambda at: _bass_of(symbols[at])):
        run = list(group)
        first = symbols[run[0]]
        if bass is None or first is None or first.root.pc != bass or first.family not in ("major", "minor"):
            continue
        for at in run[1:-1]:
            after = symbols[at + 1]
            opens = after is not None and after.root.pc == bass and after.family in ("dominant", "suspended")
            if not opens:
                found.add(at)
    return frozenset(found)


def _bass_of(symbol: ChordSymbol | None) -> int | None:
    if symbol is None:
        return None
    return symbol.bass.pc if symbol.bass else symbol.root.pc
