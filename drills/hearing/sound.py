"""What is read of a sound: pitch and level by frame, every 16 ms (`STEP`), and the notes that these are cut into."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]
Samples = npt.NDArray[np.float32]

RATE = 16_000
STEP = 0.016
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
    """Everything that is read of a take: frames, and the notes they are cut into."""

    frames: Frames
    events: tuple[Event, ...]

    @property
    def duration(self) -> float:
        return float(self.frames.times[-1] + STEP) if len(self.frames.times) else 0.0


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
