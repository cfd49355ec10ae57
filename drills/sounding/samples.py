"""The notes and strokes that the page's own band is made of: one row of samples, with where each of them lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .drums import LASTS, struck
from .modes import Samples
from .strings import DOUBLE_BASS, piano, plucked

RATE = 32_000
BASS = range(28, 61, 3)  # E1 to C4; what lies between is played a semitone higher or lower
PIANO = range(48, 76, 3)  # C3 to D#5
SECONDS = {"bass": 2.0, "piano": 2.4}
TWICE = ("ride", "snare", "hat", "foot", "brush")  # strokes that come often are there in two ways
PEAK = 0.8
GAP = 0.02  # seconds of silence after each


@dataclass(frozen=True)
class Sample:
    """`midi` None for a stroke. offset, length in seconds; `gain` brings it back to the level at which it was made."""

    kind: str
    midi: int | None
    offset: float
    length: float
    gain: float


def samples(seed: int = 3) -> tuple[Samples, list[Sample]]:
    """All of them in a row, mono, each at the same peak and faded at its end."""
    rng = np.random.default_rng(seed)
    made: list[tuple[str, int | None, Samples]] = []
    for midi in BASS:
        made.append(("bass", midi, plucked(DOUBLE_BASS, midi, rng, rate=RATE, seconds=SECONDS["bass"])))
    for midi in PIANO:
        left, right = piano(midi, 0.55, rng, rate=RATE, seconds=SECONDS["piano"])
        made.append(("piano", midi, np.asarray((left + right) / 2, np.float32)))
    for what in LASTS:
        made += [(what, None, struck(what, rng, rate=RATE)) for _ in range(1 + (what in TWICE))]
    row, found, at = [], [], 0
    for kind, note, wave in made:
        peak = float(np.max(np.abs(wave)))
        fade = int(0.04 * RATE)
        scaled = wave * np.float32(PEAK / peak)
        scaled[-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)
        found.append(Sample(kind, note, round(at / RATE, 5), round(len(wave) / RATE, 5), round(peak / PEAK, 4)))
        row += [scaled, np.zeros(int(GAP * RATE), np.float32)]
        at += len(wave) + int(GAP * RATE)
    return np.concatenate(row), found
