"""Chord symbols: the value, its reader and its written forms, in one place to import from."""

from __future__ import annotations

from tunes.harmony.chords.reader import parse_symbol
from tunes.harmony.chords.symbol import NO_CHORD, ChordSymbol, DisplayParts, SymbolReading, make_symbol

__all__ = ["NO_CHORD", "ChordSymbol", "DisplayParts", "SymbolReading", "make_symbol", "parse_symbol"]
