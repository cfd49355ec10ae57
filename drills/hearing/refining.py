"""Pitch to a cent: what the tracker says of each frame, held against the samples themselves.

The tracker is right about the note and up to five cents off by pitch, always to the same side at the same pitch (its network's bins). A
tone repeats after every period: the lag near several periods at which a stretch resembles itself most (autocorrelation with a
parabola through its peak; de Cheveigne and Kawahara, JASA 111, 2002, for the idea of reading the period off the waveform) gives
the frequency. Frames in which nothing repeats well stay as the tracker has them.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from .sound import RATE, Array, Places, Samples

WINDOW = 640  # samples compared: 40 ms
LAG = 0.016  # seconds: about so many periods that they last so long
REACH = 4  # samples on both sides of the expected lag
ALIKE = 0.85  # correlation from which a stretch counts as repeating
MOST = 0.3  # of a semitone: what is further from the tracker is not its note
_AT_ONCE = 128  # frames


Whole = npt.NDArray[np.int16] | Samples


def refined(midi: Array, times: Array, confidence: Array, samples: Whole) -> Array:
    """MIDI numbers with fractions by frame; `times` seconds of the frames' middles in `samples` (mono, 16 kHz)."""
    out = midi.copy()
    hertz = 440 * 2 ** ((midi - 69) / 12)
    periods = np.maximum(1, np.round(LAG * hertz))
    lags = periods * RATE / np.maximum(hertz, 1.0)
    longest = WINDOW + lags + REACH + 2
    first = np.round(times * RATE - longest / 2).astype(np.intp)
    fits = (confidence >= 0.4) & (first >= 0) & (first + longest < len(samples)) & (hertz > 40)
    places = np.flatnonzero(fits)
    for begin in range(0, len(places), _AT_ONCE):
        some = places[begin : begin + _AT_ONCE]
        found, alike = _lags(samples, first[some], lags[some])
        moved = 69 + 12 * np.log2(periods[some] * RATE / found / 440)
        good = (alike >= ALIKE) & (np.abs(moved - midi[some]) <= MOST)
        out[some[good]] = moved[good]
    return out


def _lags(samples: Whole, first: Places, lags: Array) -> tuple[Array, Array]:
    """The lag of the best likeness near each expected one, between samples, and how alike the two stretches are (-1 to 1)."""
    middle = np.round(lags).astype(np.intp)
    window = np.arange(WINDOW)
    one = samples[first[:, None] + window].astype(np.float64)
    power = np.sum(one**2, axis=1)
    likeness = []
    for step in range(-REACH, REACH + 1):
        other = samples[(first + middle + step)[:, None] + window].astype(np.float64)
        likeness.append(np.sum(one * other, axis=1) / np.sqrt(power * np.sum(other**2, axis=1) + 1e-12))
    rows = np.stack(likeness, axis=1)
    peak = np.argmax(rows[:, 1:-1], axis=1) + 1
    at = np.arange(len(rows))
    left, top, right = rows[at, peak - 1], rows[at, peak], rows[at, peak + 1]
    bend = left - 2 * top + right
    shift = np.where(np.abs(bend) > 1e-12, 0.5 * (left - right) / np.where(np.abs(bend) > 1e-12, bend, 1.0), 0.0)
    inside = (top >= left) & (top >= right)  # a peak at the edge is none
    return middle - REACH + peak + np.clip(shift, -0.5, 0.5), np.where(inside, top, -1.0)
