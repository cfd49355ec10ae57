"""The engine behind the interface of an outside scorer: chords with bar and beat in, numbers out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from tunes.harmony.chord_symbol import ChordSymbol
from tunes.harmony.sounds import Sound, sound_of
from tunes.harmony.symbols import parse_symbol


@lru_cache(maxsize=8192)
def _symbol(text: str) -> ChordSymbol | None:
    return parse_symbol(text).symbol


def _times(chords: Sequence[Mapping[str, Any]], beats: int) -> list[tuple[float, float]]:
    onsets = [(chord["bar"] - 1) * beats + chord["beat"] - 1 for chord in chords]
    end = max(chords[-1]["bar"] * beats, onsets[-1] + 0.5) if chords else 0
    return [(on, max(0.5, off - on)) for on, off in zip(onsets, [*onsets[1:], end], strict=True)]


def sounds_from(chords: Sequence[Mapping[str, Any]], meter: tuple[int, int]) -> tuple[list[Sound], float]:
    """The chords as the engine's sounds, and the beats of a bar."""
    times = _times(chords, meter[0])
    sounds = [sound_of(_symbol(chord["symbol"]), *time) for chord, time in zip(chords, times, strict=True)]
    return sounds, float(meter[0])
