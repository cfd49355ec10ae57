"""A chord symbol as MusicXML says it: kind, the kind's text, degrees.

The kind is the one that players mean (W3C, MusicXML 4.0, type `kind-value`): third, seventh and suspension are in the
kind wherever it has them; ninths, and the 11ths and 13ths that the standard calls "usually the basis for alteration",
where the chord reaches them. So C9 is a ninth chord, Cadd9 a major triad with an added degree, C13 a 13th without its 11th.
"""

from __future__ import annotations

from dataclasses import dataclass

from tunes.harmony.chords import ChordSymbol
from tunes.harmony.chords.vocabulary import ALTERED, KINDS
from tunes.notation.degrees import Change, changes_for
from tunes.notation.kinds import STACKED, parts_of


@dataclass(frozen=True, slots=True)
class ChordForm:
    """What stands in `<kind>`, in its attribute `text`, and the `<degree>` elements after it."""

    kind: str
    text: str
    changes: tuple[Change, ...]


def form_of(symbol: ChordSymbol) -> ChordForm:
    """
    >>> from tunes.harmony.chords import parse_symbol
    >>> form_of(parse_symbol("C13").symbol)
    ChordForm(kind='dominant-13th', text='13', changes=(Change(number=11, alter=0, how='subtract'),))
    """
    kind = kind_of(symbol)
    return ChordForm(kind, symbol.kind_text, changes_for(kind, parts_of(symbol.degrees)))


def kind_of(symbol: ChordSymbol) -> str:
    """The `kind-value` of a symbol."""
    plain = KINDS[symbol.kind].musicxml
    have = set(symbol.degrees)
    name = STACKED.get(symbol.kind)
    if name is None or symbol.degrees == ALTERED:
        return plain
    if "13" in have and have & {"9", "b9", "#9"}:
        return f"{name}-13th"
    if {"9", "11"} <= have:
        return f"{name}-11th"
    return f"{name}-ninth" if "9" in have else plain
