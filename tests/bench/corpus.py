"""The engine behind the interface of an outside scorer: chords with bar and beat in, numbers out.

`tonic` and `mode` are those of the key area, `degree` the root above it in semitones, `resolves_to` an index.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from tunes.harmony.analysis.pipeline import analyse_sounds
from tunes.harmony.analysis.sounds import Sound, sound_of
from tunes.harmony.chords import parse_symbol
from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.readings.landing import LANDED
from tunes.harmony.readings.reading import Reading


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


def _role(reading: Reading) -> str:
    """The annotators call every point of arrival a tonic of its own; in its key it may be a subdominant or a colour."""
    return "tonic" if reading.rule in LANDED else reading.function.role


def analyse_chords(chords: Sequence[Mapping[str, Any]], meter: tuple[int, int]) -> dict[str, Any]:
    """One chart read by the engine, in the scorer's terms."""
    sounds, beats = sounds_from(chords, meter)
    found = analyse_sounds([_symbol(chord["symbol"]) for chord in chords], sounds, beats)
    return {
        "key": found.home.text,
        "chords": [
            {
                "tonic": reading.key.tonic.pc,
                "mode": reading.key.mode,
                "degree": (sound.root - reading.key.tonic.pc) % 12,
                "role": _role(reading),
                "resolves_to": reading.resolves_to,
            }
            for sound, reading in zip(sounds, found.readings, strict=True)
        ],
    }
