"""Chord symbols in the syntax of Harte, Sandler, Abdallah, Gómez, *Symbolic representation of musical chords*, ISMIR 2005."""

from __future__ import annotations

from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.chords.vocabulary import KINDS


def to_harte(symbol: ChordSymbol) -> str:
    """
    >>> from tunes.harmony.chords import parse_symbol
    >>> [to_harte(parse_symbol(text).symbol) for text in ("C7b5", "Bbm7/Ab", "F9sus4")]
    ['C:7(*5,b5)', 'Bb:min7/b7', 'F:sus4(b7,9)']
    """
    row = KINDS[symbol.kind]
    base = {"augmented-seventh": "7", "suspended-seventh": "sus4", "diminished-major-seventh": "dim"}.get(
        symbol.kind, row.harte
    )
    implied = next((kind.degrees for kind in KINDS.values() if kind.harte == base and base), ("1",))
    omitted = [f"*{degree}" for degree in implied if degree not in symbol.degrees]
    added = [degree for degree in symbol.degrees if degree not in implied]
    listed = ",".join([*omitted, *added])
    body = base + (f"({listed})" if listed else "")
    bass = f"/{symbol.bass_degree}" if symbol.bass else ""
    return f"{symbol.root.text}:{body}{bass}"
