"""Notes heard against notes wanted: where the take begins, how fast it goes, and which event is which note.

First a vote: every pair of an event and a note of the same pitch says where the take would begin at each of a few tempi, and
the place with most votes wins (the idea of the Hough transform). Then the cheapest pairing in order, by dynamic programming
over pitch and time (edit distance with substitutions, as in score following: Dannenberg, ICMC 1984); then the take's own
time is read off the pairs and the pairing is made once more against it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .expected import Score
from .mending import mended
from .sound import Array, Event, Places

TEMPI = np.arange(0.80, 1.2501, 0.01)
"""Tempi tried, as parts of the one that was asked for."""
_BIN = 0.06
_VOTERS = 512
"""Notes that vote: more would only take room."""
_DELETE, _INSERT = 0.6, 0.45
_WRONG, _OCTAVE, _TIME, _SPECK = 0.75, 0.35, 0.8, 0.5
SAME = 0.6
"""Semitones within which a pitch is the note."""
_LOOK = 8
"""Notes on either side that say what the take's own time is around a note."""


@dataclass(frozen=True)
class Warp:
    """second = start + rate × score second, then `drift` seconds at each note (the take's own time around it).

    swing  seconds by which notes on the half beat come later than straight ones.
    """

    start: float
    rate: float
    drift: Array
    swing: float = 0.0


@dataclass(frozen=True)
class Aligned:
    """events     slips mended; event_of[i] is the index there of the one paired with note i, -1 without one.
    due        second of each note in the take's own time.
    tuning     cents of the take against A 440; shift  semitones by which it lies above the line.
    """

    events: tuple[Event, ...]
    event_of: tuple[int, ...]
    warp: Warp
    due: Array
    tuning: float
    shift: int


def align(events: Sequence[Event], score: Score, *, begins: float | None = None) -> Aligned | None:
    """Pair events with notes. `begins`: second of the first bar in the file, where it is known. None: nothing matches."""
    if len(events) < 2:
        return None
    times, midi, weights = _arrays(events)
    tuning = _tuning(midi, weights)
    voted = _vote(times, midi - tuning, weights, score, begins)
    if voted is None:
        return None
    start, rate, shift = voted
    warp = Warp(start, rate, jumps(times, midi - tuning - shift, weights, score, start, rate))
    events = mended(events, score, _due(score, warp), tuning + shift)
    times, midi, weights = _arrays(events)
    heard = midi - tuning - shift
    pairs = np.zeros(0, dtype=int)
    for tolerance in (1.0, 0.8, 0.5):
        pairs = _pair(times, heard, weights, _due(score, warp), score, max(tolerance * score.beat, 0.25))
        warp = _warp(times, heard, pairs, score, warp.start, warp.rate)
        more = _retuned(heard, weights, pairs, score)
        tuning, heard = tuning + more, heard - more
    return Aligned(tuple(events), tuple(int(pair) for pair in pairs), warp, _due(score, warp), 100 * tuning, shift)


def _arrays(events: Sequence[Event]) -> tuple[Array, Array, Array]:
    """Starts, pitches, and how much each event weighs: little when it is very short."""
    return (
        np.array([event.start for event in events]),
        np.array([event.midi for event in events]),
        np.array([min(1.0, event.length / 0.15) for event in events]),
    )


def _tuning(midi: Array, weights: Array) -> float:
    """Semitones (-0.5 to 0.5) by which the take lies off A 440: the mean on the circle of one semitone."""
    turned = np.sum(weights * np.exp(2j * np.pi * midi))
    return float(np.angle(turned) / (2 * np.pi))


def _retuned(heard: Array, weights: Array, pairs: Places, score: Score) -> float:
    """Semitones by which notes of the right pitch lie off in the middle (their median): some out of tune do not pull."""
    right = np.flatnonzero((pairs >= 0) & (weights[pairs] >= 1) & (np.abs(heard[pairs] - score.midi) < SAME))
    return float(np.median(heard[pairs[right]] - score.midi[right])) if len(right) >= 5 else 0.0


def _vote(
    times: Array, midi: Array, weights: Array, score: Score, begins: float | None
) -> tuple[float, float, int] | None:
    """(start, rate, shift) with most votes: as written first, other octaves and keys only when they win clearly."""
    best: tuple[float, float, float, int] | None = None
    for shift in (0, -12, 12, *(s for s in range(-14, 15) if s not in (0, 12, -12))):
        found = _vote_at(times, midi - shift, weights, score, begins)
        bar = 1.0 if best is None else 1.3
        if found and (best is None or found[0] > bar * best[0]):
            best = (*found, shift)
    if best is None or best[0] < 1.5:
        return None
    return best[1], best[2], best[3]


def _vote_at(
    times: Array, midi: Array, weights: Array, score: Score, begins: float | None
) -> tuple[float, float, float] | None:
    rows, columns = np.nonzero(np.abs(midi[:, None] - score.midi[None, :_VOTERS]) < SAME)
    if len(rows) == 0:
        return None
    heard, wanted, votes = times[rows], score.seconds[columns], weights[rows]
    best = (0.0, 0.0, 1.0)
    for rate in TEMPI:
        starts = heard - rate * wanted
        if begins is None:
            inside = np.ones(len(starts), dtype=bool)
            low = float(starts.min())
        else:
            inside, low = (starts > begins - 0.75) & (starts < begins + 1.5), begins - 0.75
        if not inside.any():
            continue
        votes_at = np.bincount(((starts[inside] - low) / _BIN).astype(int), weights=votes[inside])
        counts = np.convolve(votes_at, (0.6, 1.0, 0.6))[1:-1]
        at = int(counts.argmax())
        bonus = 1.0 - 0.1 * abs(float(rate) - 1)
        if counts[at] * bonus > best[0] + 1e-9:
            best = (float(counts[at] * bonus), low + (at + 0.5) * _BIN, float(rate))
    return best if best[0] else None


def jumps(times: Array, midi: Array, weights: Array, score: Score, start: float, rate: float) -> Array:
    """Seconds by which the take lies off its own line around each note, where most notes around it agree on that: a tempo
    that wanders, a beat left out, a bar too early."""
    found = np.zeros(len(score.notes))
    due, wanted, reach = start + rate * score.seconds, score.midi, 2 * score.bars[0][1] * score.beat
    for first in range(0, len(due), _LOOK // 2):
        near = slice(max(0, first - _LOOK // 2), first + _LOOK)
        found[first : first + _LOOK // 2] = _jump(times, midi, weights, due[near], wanted[near], reach)
    return found


def _jump(times: Array, midi: Array, weights: Array, due: Array, wanted: Array, reach: float) -> float:
    inside = (times > due[0] - reach) & (times < due[-1] + reach)
    rows, columns = np.nonzero(np.abs(midi[inside][:, None] - wanted[None, :]) < SAME)
    off = times[inside][rows] - due[columns]
    kept = np.abs(off) <= reach
    if not kept.any():
        return 0.0
    bins = int(2 * reach / _BIN) + 1
    votes_at = np.bincount(
        ((off[kept] + reach) / _BIN).astype(int), weights=weights[inside][rows][kept], minlength=bins
    )
    counts = np.convolve(votes_at, (1.0, 1.0, 1.0))[1:-1]
    here = np.arange(len(counts)) * _BIN - reach + _BIN / 2
    at = int((counts * (1 - 0.2 * np.abs(here) / reach)).argmax())
    usual = float(counts[np.abs(here) < 0.15].max())
    if counts[at] < 0.55 * len(due) or counts[at] < 1.5 * usual:
        return 0.0
    return float(here[at])


def _pair(times: Array, midi: Array, weights: Array, due: Array, score: Score, tolerance: float) -> Places:
    """The cheapest pairing in order: index of the event of each note, -1 for none."""
    count = len(times)
    inserts = np.concatenate([[0.0], np.cumsum(_INSERT * weights)])
    row = inserts.copy()
    ways = np.zeros((len(due) + 1, count + 1), dtype=np.int8)
    for note, (second, pitch) in enumerate(zip(due, score.midi, strict=True), 1):
        off = np.abs(midi - pitch)
        octave = np.abs(np.abs(midi - pitch) - 12) < SAME
        wrong = np.where(octave, _OCTAVE, _WRONG + 0.01 * np.minimum(off, 12))
        costs = (
            np.where(off < SAME, 0.0, wrong)
            + _SPECK * (1 - weights)
            + _TIME * np.minimum(np.abs(times - second) / tolerance, 1.5)
        )
        paired = np.concatenate([[np.inf], row[:-1] + costs])
        skipped = row + _DELETE
        best = np.minimum(paired, skipped)
        new = np.minimum.accumulate(best - inserts) + inserts
        ways[note] = np.where(new < best - 1e-12, 2, np.where(paired <= skipped, 1, 0))
        row = new
    pairs = np.full(len(due), -1)
    note, at = len(due), count
    while note > 0:
        way = ways[note, at]
        if way == 2:
            at -= 1
        elif way == 1:
            note, at = note - 1, at - 1
            pairs[note] = at
        else:
            note -= 1
    return pairs


def _warp(times: Array, midi: Array, pairs: Places, score: Score, start: float, rate: float) -> Warp:
    """The take's own time: a line through the pairs of one pitch, the swing of its half beats, the drift around each note."""
    right = np.flatnonzero((pairs >= 0) & (np.abs(midi[pairs] - score.midi) < SAME))
    if len(right) < 3:
        return Warp(start, rate, np.zeros(len(pairs)))
    wanted, heard = score.seconds[right], times[pairs[right]]
    if len(right) >= 6 and np.ptp(wanted) > 2 * score.beat:
        rate = _slope(wanted, heard, rate)
    start = float(np.median(heard - rate * wanted))
    off = heard - rate * wanted - start
    half = score.half[right] > 0
    swing = 0.0
    if half.sum() >= 8 and (~half).sum() >= 8:
        swing = float(np.median(off[half]) - np.median(off[~half]))
        swing = swing if abs(swing) > 0.02 else 0.0
        off = off - np.where(half, swing, 0.0)
    return Warp(start, rate, _drift(right, off, len(pairs)), swing)


def _slope(wanted: Array, heard: Array, rate: float) -> float:
    """Median slope over pairs of notes half the take apart: outliers do not pull (Theil 1950, Sen 1968)."""
    gap = len(wanted) // 2
    near, far = slice(0, len(wanted) - gap), slice(gap, None)
    slopes = (heard[far] - heard[near]) / np.maximum(wanted[far] - wanted[near], 1e-6)
    found = float(np.median(slopes))
    return found if 0.75 < found < 1.35 else rate


def _drift(right: Places, off: Array, count: int) -> Array:
    """The median of the notes around each note, itself left out."""
    drift = np.zeros(count)
    places = np.searchsorted(right, np.arange(count))
    for note in range(count):
        low, high = max(0, places[note] - _LOOK), places[note] + _LOOK + 1
        around = [off[k] for k in range(low, min(high, len(right))) if right[k] != note]
        drift[note] = float(np.median(around)) if around else 0.0
    return drift


def _due(score: Score, warp: Warp) -> Array:
    """When each note is due in the take's own time."""
    return warp.start + warp.rate * score.seconds + warp.drift + warp.swing * score.half
