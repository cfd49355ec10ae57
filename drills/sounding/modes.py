"""Sums of decaying partials, and noise of a given colour: what every struck or plucked sound here is made of.

A string or bar that was struck once is the sum of its modes, each a sine that decays by itself (N. Fletcher and T. Rossing,
"The Physics of Musical Instruments", 2nd ed., 1998, chapters 2, 3, 12 and 18; figures of the instruments are chosen after it
and by spectrum, from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float32]
Row = npt.NDArray[np.floating[Any]]
_AT_ONCE = 8  # partials summed in one go, so that a long note needs little memory


def hertz(midi: float) -> float:
    """Equal temperament, A4 = 440 Hz.

    >>> hertz(69), round(hertz(28), 2)
    (440.0, 41.2)
    """
    return float(440 * 2 ** ((midi - 69) / 12))


def ringing(
    frequencies: Row,
    amplitudes: Row,
    t60: Row,
    *,
    seconds: float,
    rate: int,
    phases: Row | None = None,
    bend: float = 0.0,
) -> Samples:
    """The sum of decaying sines. `t60` are seconds for a fall of 60 dB; `bend` is how far, as a share, the beginning lies above
    the pitch (gone after some 30 ms). Partials above 0.45 of the rate are left out."""
    time = np.arange(int(seconds * rate), dtype=np.float32) / np.float32(rate)
    bent = time + np.float32(bend * 0.03) * (1 - np.exp(-time / np.float32(0.03)))
    out = np.zeros(len(time), np.float32)
    fits = frequencies < 0.45 * rate
    start = np.zeros(len(frequencies)) if phases is None else phases
    rows = np.stack([frequencies, amplitudes, 6.9078 / np.maximum(t60, 1e-3), start])[:, fits].astype(np.float32)
    for first in range(0, rows.shape[1], _AT_ONCE):
        f, a, d, p = (row[first : first + _AT_ONCE, None] for row in rows)
        out += np.sum(a * np.exp(-d * time) * np.sin(np.float32(2 * np.pi) * f * bent + p), axis=0)
    return out


def noise(
    seconds: float, rate: int, colour: Callable[[Row], Row], rng: np.random.Generator, fades: float, rise: float = 0.001
) -> Samples:
    """White noise through `colour` (gain by frequency in Hz), rising in `rise` seconds and falling by 60 dB in `fades`."""
    count = int(seconds * rate)
    spectrum = np.fft.rfft(rng.standard_normal(count)) * colour(np.fft.rfftfreq(count, 1 / rate))
    wave = np.fft.irfft(spectrum, count)
    time = np.arange(count) / rate
    shape = np.minimum(1.0, time / rise) * np.exp(-6.9078 * np.maximum(0, time - rise) / fades)
    wave *= shape / (np.sqrt(np.mean(wave**2)) + 1e-12)
    return np.asarray(wave, np.float32)


def band(low: float, high: float, steep: int = 2) -> Callable[[Row], Row]:
    """The gain of a band of noise between two frequencies, falling by `steep` times 6 dB an octave outside."""

    def colour(f: Row) -> Row:
        safe = np.maximum(f, 1.0)
        gain = 1 / (np.sqrt(1 + (low / safe) ** (2 * steep)) * np.sqrt(1 + (safe / high) ** (2 * steep)))
        return np.asarray(gain)

    return colour


def cut(wave: Samples, seconds: float, release: float, rate: int) -> Samples:
    """The note ended after `seconds`: from there it dies away in `release` seconds (60 dB)."""
    end = int(seconds * rate)
    if end >= len(wave):
        return wave
    kept = wave[: end + int(release * rate)].copy()
    rest = np.arange(len(kept) - end, dtype=np.float32)
    kept[end:] *= np.exp(-6.9078 * rest / max(1, len(rest)))
    return kept


def levelled(wave: Samples, rate: int, over: float = 0.4) -> Samples:
    """The same with a mean level of 0.2 (RMS) over its first stretch."""
    first = wave[: int(over * rate)]
    return wave * np.float32(0.2 / (np.sqrt(np.mean(first**2)) + 1e-9))
