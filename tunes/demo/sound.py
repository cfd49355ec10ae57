"""The sound of an invented recording: a chart's bass and shells, the melody on top. Mono, 16 bit WAV, by arithmetic."""

from __future__ import annotations

import io
import math
import operator
import sys
import wave
from array import array
from collections.abc import Sequence
from functools import lru_cache

from tunes.top_of_form.plan import Plan

RATE = 8000
LEAD_IN = 1.5  # seconds before the first downbeat
_BASS, _SHELL, _TUNE = 6000, 2200, 5500
_WAVE = tuple(math.sin(2 * math.pi * i / 64) + 0.3 * math.sin(4 * math.pi * i / 64) for i in range(64))


def render(plan: Plan, tempo: float, melody: Sequence[tuple[float, float, int]] = ()) -> bytes:
    """A WAV file of the plan at `tempo` quarter notes a minute; the first downbeat comes after `LEAD_IN` seconds.

    `melody` is (beat, length, MIDI number) in beats of the first chorus: it is heard once, over the first one.
    """
    beat = 60 / tempo
    samples = array("h", bytes(2 * int(RATE * (LEAD_IN + plan.beats * beat + 1))))
    for at, length, bass, shells in plan.chords:
        for step in range(max(1, round(length))):
            note = bass if step % 2 == 0 else bass + 7
            _add(samples, LEAD_IN + (at + step) * beat, beat * 0.9, note, _BASS)
        for note in shells:
            _add(samples, LEAD_IN + at * beat, beat * min(length, 2) * 0.9, note, _SHELL)
    for at, length, note in melody:
        _add(samples, LEAD_IN + at * beat, beat * length * 0.95, note, _TUNE)
    if sys.byteorder == "big":
        samples.byteswap()  # WAV is little-endian
    out = io.BytesIO()
    with wave.open(out, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(RATE)
        sound.writeframes(samples.tobytes())
    return out.getvalue()


def _add(samples: array[int], start: float, length: float, midi: int, level: int) -> None:
    """Lay one note over what sounds already. Four voices at their loudest stay within 16 bits."""
    first = int(start * RATE)
    note = _note(midi, min(int(length * RATE), len(samples) - first), level)
    samples[first : first + len(note)] = array("h", map(operator.add, samples[first : first + len(note)], note))


@lru_cache(maxsize=512)
def _note(midi: int, count: int, level: int) -> array[int]:
    """One decaying note of `count` samples, looked up from a single period: a chart has few, and repeats them."""
    step = 64 * 440 * 2 ** ((midi - 69) / 12) / RATE
    return array(
        "h",
        [int(level * (1 - i / count) * min(1.0, i / 40) * _WAVE[int(i * step) & 63]) for i in range(count)],
    )
