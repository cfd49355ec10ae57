"""Small builders: chords as "G7@0 Cmaj7@4" (crotchets), melodies as MIDI pitches or names on an even beat."""

from __future__ import annotations

from collections.abc import Sequence

from tunes.harmony.charts.bars import COMMON_TIME
from tunes.harmony.chords import parse_symbol
from tunes.harmony.pitch.spelling import Pitch
from tunes.melody import Change, Grid, Note

GRID = Grid.even(COMMON_TIME, 16)


def changes(text: str) -> list[Change]:
    pairs = (word.split("@") for word in text.split())
    return [Change(float(at), parse_symbol(symbol).symbol if symbol != "NC" else None) for symbol, at in pairs]


def melody(pitches: Sequence[int] | str, start: float = 0.0, step: float = 0.5) -> list[Note]:
    """Even notes; names like "C4 Eb4" keep their spelling."""
    if isinstance(pitches, str):
        read = [Pitch.parse(word) for word in pitches.split()]
        return [Note(start + n * step, step, pitch.midi, pitch.name) for n, pitch in enumerate(read)]
    return [Note(start + n * step, step, pitch) for n, pitch in enumerate(pitches)]
