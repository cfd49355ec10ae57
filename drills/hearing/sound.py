"""What is read of a sound: pitch and level by frame, and how much is new by frame.

Frames come every 16 ms (`STEP`), attacks every 8 ms. All arrays have one row per frame.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Samples = npt.NDArray[np.float32]

RATE = 16_000
STEP = 0.016
HOP = 128
WINDOW = 512
_LAG = 2
SURE = 0.5
"""Confidence from which a frame counts as having a pitch (the tracker's own calibration)."""


@dataclass(frozen=True)
class Frames:
    """times   seconds, the middle of each frame.
    midi    sounding pitch as a MIDI number with fractions (69 is A 440); meaningless where confidence is low.
    confidence   0 to 1.  level   dB below full scale.
    """

    times: Array
    midi: Array
    confidence: Array
    level: Array

    def between(self, start: float, end: float) -> slice:
        """The frames whose middle lies in a stretch of seconds."""
        return slice(int(np.searchsorted(self.times, start)), int(np.searchsorted(self.times, end)))


@dataclass(frozen=True)
class Event:
    """A note as the tracker cuts it: seconds, MIDI number with fractions, mean confidence, level in dB."""

    start: float
    end: float
    midi: float
    confidence: float = 1.0
    level: float = 0.0

    @property
    def length(self) -> float:
        return self.end - self.start


@dataclass(frozen=True)
class Sound:
    """Everything that is read of a take. `attacks`: seconds and strengths of what begins anew."""

    frames: Frames
    events: tuple[Event, ...]
    attack_times: Array
    attack_sizes: Array

    @property
    def duration(self) -> float:
        return float(self.frames.times[-1] + STEP) if len(self.frames.times) else 0.0


class Newness:
    """How much energy is new in each window of 32 ms, every 8 ms, read block by block.

    The positive difference of log magnitudes against the loudest neighbour bin two windows earlier, so that vibrato is
    not taken for an attack (Böck and Widmer, "Maximum filter vibrato suppression for onset detection", DAFx 2013).
    """

    def __init__(self) -> None:
        self._rest = np.zeros(WINDOW // 2, dtype=np.float32)
        self._before: Array | None = None
        self._parts: list[Array] = []

    def push(self, block: Samples) -> None:
        """Read on."""
        self._rest = np.concatenate([self._rest, block])
        count = max(0, (len(self._rest) - WINDOW) // HOP + 1)
        if not count:
            return
        magnitudes = _magnitudes(self._rest, count)
        self._rest = self._rest[count * HOP :]
        padded = magnitudes if self._before is None else np.concatenate([self._before, magnitudes])
        self._parts.append(_flux(padded)[0 if self._before is None else _LAG :])
        self._before = padded[-_LAG:]

    def curve(self) -> Array:
        """One number for each 8 ms heard so far."""
        return np.concatenate(self._parts) if self._parts else np.zeros(0)


def _magnitudes(samples: Samples, count: int) -> Array:
    windows = np.lib.stride_tricks.sliding_window_view(samples, WINDOW)[: count * HOP : HOP]
    spectrum = np.abs(np.fft.rfft(windows * np.hanning(WINDOW).astype(np.float32), axis=1))
    return np.asarray(np.log10(1 + 30 * spectrum), dtype=np.float64)


def _flux(magnitudes: Array) -> Array:
    wide = magnitudes.copy()
    new = np.zeros(len(magnitudes))
    if len(magnitudes) <= _LAG:
        return new
    for shift in (1, 2):
        wide[:, shift:] = np.maximum(wide[:, shift:], magnitudes[:, :-shift])
        wide[:, :-shift] = np.maximum(wide[:, :-shift], magnitudes[:, shift:])
    new[_LAG:] = np.maximum(magnitudes[_LAG:] - wide[:-_LAG], 0).mean(axis=1)
    return new


def attacks(new: Array) -> tuple[Array, Array]:
    """Seconds and sizes of the peaks: greatest within 40 ms, and well above the mean of the quarter second around."""
    if len(new) < 3:
        return np.zeros(0), np.zeros(0)
    padded = np.pad(new, 5, mode="edge")
    highest = np.lib.stride_tricks.sliding_window_view(padded, 11).max(axis=1)
    width = 31
    around = np.convolve(np.pad(new, width // 2, mode="edge"), np.ones(width) / width, mode="valid")
    found = np.flatnonzero((new >= highest) & (new > 1.6 * around) & (new > 0.01))
    return found * (HOP / RATE), new[found]


def pieces(blocks: Iterable[Samples], seconds: float) -> Iterator[Samples]:
    """Blocks of any size joined or cut to pieces of about so many seconds."""
    waiting: list[Samples] = []
    size, wanted = 0, int(seconds * RATE)
    for block in blocks:
        waiting.append(block)
        size += len(block)
        if size >= wanted:
            joined = np.concatenate(waiting)
            while len(joined) >= wanted:
                yield joined[:wanted]
                joined = joined[wanted:]
            waiting, size = [joined], len(joined)
    if size:
        yield np.concatenate(waiting)
