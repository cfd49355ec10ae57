"""The one door to the pitch tracker swift-f0 (MIT): an optional extra, `requirements-hearing.txt`.

One thread, no spinning, a few seconds at a time, so that a take of any length needs little memory and a worker leaves the
other cores to the pages.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np

from .extra import NotInstalled
from .refining import refined
from .sound import RATE, SURE, Array, Event, Frames, Samples, Sound, pieces

PIECE = 8.0
HOLD_MS = 48.0
"""What a new note costs the cutter, as a length: 32 to 80 ms change the figures by less than 0.015 (measured)."""


@lru_cache(maxsize=1)
def _detector() -> Any:
    try:
        import swift_f0
    except ImportError as error:
        raise NotInstalled from error
    return swift_f0.SwiftF0(threads=1, spin=False)


def listen(blocks: Iterable[Samples]) -> Sound:
    """Pitch, level and notes of mono sound at 16 kHz, given in blocks of any size. Raises `NotInstalled`."""
    detector = _detector()
    import swift_f0

    stream = detector.stream()
    results, kept = [], []
    for piece in pieces(blocks, PIECE):
        results.append(stream.push(piece, RATE))
        kept.append(np.round(np.clip(piece, -1, 1) * 32767).astype(np.int16))  # half the memory of what comes in
    result = swift_f0.concat([*results, stream.flush()])
    midi = 69 + 12 * np.log2(np.maximum(result.pitch_hz, 1.0) / 440)
    frames = Frames(result.timestamps, midi, result.confidence, result.loudness_db)
    cut = swift_f0.segment_notes(result, pitch_hold_ms=HOLD_MS) if len(midi) else []
    if kept:
        frames = replace(frames, midi=refined(midi, frames.times, frames.confidence, np.concatenate(kept)))
    events = tuple(_event(frames, note.start, note.end, note.pitch_hz, midi) for note in cut)
    return Sound(frames, events)


def _event(frames: Frames, start: float, end: float, hertz: float, raw: Array) -> Event:
    """A note as it was cut, its pitch moved by as much as its frames were."""
    inside = frames.between(start, end)
    sure = frames.confidence[inside]
    level = frames.level[inside]
    moved = (frames.midi - raw)[inside][sure >= SURE]
    return Event(
        start,
        end,
        69 + 12 * float(np.log2(hertz / 440)) + (float(np.median(moved)) if len(moved) else 0.0),
        float(sure.mean()) if len(sure) else 0.0,
        float(level.max()) if len(level) else -120.0,
    )
