"""The sound of an invented recording: bass and shells of a chart, made by arithmetic. Mono, 16 bit WAV."""
from __future__ import annotations

import io
import math
import wave
from array import array

from tunes.top_of_form.plan import Plan

RATE = 8000
LEAD_IN = 1.5  # seconds before the first downbeat


def render(plan: Plan, tempo: float) -> bytes:
    """A WAV file of the plan at `tempo` quarter notes a minute; the first downbeat comes after `LEAD_IN` seconds."""
    beat = 60 / tempo
    samples = array("h", bytes(2 * int(RATE * (LEAD_IN + plan.beats * beat + 1))))
    for at, length, bass, shells in plan.chords:
        for step in range(max(1, round(length))):
            note = bass if step % 2 == 0 else bass + 7
            _add(samples, LEAD_IN + (at + step) * beat, beat * 0.9, note, 7000)
        for note in shells:
            _add(samples, LEAD_IN + at * beat, beat * min(length, 2) * 0.9, note, 2500)
    out = io.BytesIO()
    with wave.open(out, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(RATE)
        sound.writeframes(samples.tobytes())
    return out.getvalue()


def _add(samples: array[int], start: float, length: float, midi: int, level: int) -> None:
    """One decaying note, looked up from a single period so that it costs little."""
    period = RATE / (440 * 2 ** ((midi - 69) / 12))
    table = [math.sin(2 * math.pi * i / 64) + 0.3 * math.sin(4 * math.pi * i / 64) for i in range(64)]
    first, count = int(start * RATE), int(length * RATE)
    step = 64 / period
    for i in range(0, min(count, len(samples) - first)):
        fade = (1 - i / count) * min(1.0, i / 40)
        value = samples[first + i] + int(level * fade * table[int(i * step) & 63])
        samples[first + i] = max(-32000, min(32000, value))
