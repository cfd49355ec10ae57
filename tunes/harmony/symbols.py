"""Chord symbols: the value, its reader and its written forms, in one place to import from."""

from __future__ import annotations

from .chord_symbol import NO_CHORD, ChordSymbol, DisplayParts, SymbolReading, make_symbol
from .symbol_text import parse_symbol

__all__ = ["NO_CHORD", "ChordSymbol", "DisplayParts", "SymbolReading", "make_symbol", "parse_symbol"]
