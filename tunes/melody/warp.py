"""Beats between taps: a tempo that gives and takes, as far as the notes say so.

Between two taps the beats are first laid out evenly. Then the notes are asked: where in the beat they come (`_USUAL`: on the beat,
around the half, less often between) speaks for or against a shift of the beats, and shifts wander slowly. The shift at every fourth
beat is the mean of what is likely, by the forward and backward sums of a hidden Markov chain (Rabiner, *Proceedings of
the IEEE* 77/2, 1989) that is held to zero at the taps. The player's own way of dividing the beat is learnt from the
first pass.
"""

from __future__ import annotations

import itertools
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

STEPS = 24
"""Shifts are counted in 24ths of a beat."""
FARTHEST = 36
WANDERS = 0.075
"""Beats that a shift changes in four beats (standard deviation)."""
EVERY = 4
TRUST = 1.2
"""What a note counts: a little more than one, because the usual division is blurred by all tempos together."""
_OWN = 60.0
"""Notes that weigh as much as the usual division of the beat."""
_ROUNDS = 2
_SURE_WITHIN = 16
"""Beats from tap to tap within which a place is not a guess."""
_ON_THE_BEAT, _OFF_THE_BEAT, _ELSEWHERE = 0.5, 0.3, 0.85


def _usual(place: int) -> float:
    """How often notes come in a 24th of a beat, 1 being even: most on the beat, many where the second quaver lies, which is
    played anywhere from half (even) to seven ninths (3.5 to 1) of the beat (Friberg and Sundström, TMH-QPSR 4/1997). The weights
    are common practice, no source."""
    away = min(place, STEPS - place)
    second = STEPS / 2 - 1 <= place <= STEPS * 7 / 9
    return _ELSEWHERE + _ON_THE_BEAT * max(0.0, 1 - away / 4) + (_OFF_THE_BEAT if second else 0.0)


_USUAL = tuple(_usual(place) for place in range(STEPS))


@dataclass(frozen=True, slots=True)
class Beats:
    """The second of every beat from `first` on; before and after it goes on in the same tempo. far  beats that lie far
    from any tap."""

    first: int
    seconds: tuple[float, ...]
    far: frozenset[int] = frozenset()

    def second(self, beat: int) -> float:
        at, last = beat - self.first, len(self.seconds) - 1
        if at < 0:
            return self.seconds[0] + at * (self.seconds[1] - self.seconds[0])
        if at > last:
            return self.seconds[last] + (at - last) * (self.seconds[last] - self.seconds[last - 1])
        return self.seconds[at]

    def beat_of(self, second: float) -> int:
        """The beat that sounds at a second."""
        at = bisect_right(self.seconds, second) - 1
        if at < 0:
            return self.first + int((second - self.seconds[0]) // (self.seconds[1] - self.seconds[0]))
        if at == len(self.seconds) - 1:
            length = self.seconds[-1] - self.seconds[-2]
            return self.first + at + int((second - self.seconds[-1]) // length)
        return self.first + at

    def is_close(self, beat: int) -> bool:
        return beat not in self.far and self.first <= beat < self.first + len(self.seconds)


def beat_times(taps: Sequence[tuple[float, int]], onsets: Sequence[float]) -> Beats:
    """taps are (second, beat counted through); at least two, each later than the one before in both (ValueError)."""
    rows = sorted(set(taps), key=lambda tap: tap[1])
    for (s, a), (t, b) in itertools.pairwise(rows):
        if t <= s or a == b:
            raise ValueError(f"the taps at {s:.2f} and {t:.2f} seconds are out of order: beats must follow each other")
    if len(rows) < 2:
        raise ValueError("at least two beats must be tapped")
    spans = [_Span(s, t, a, b, onsets) for (s, a), (t, b) in itertools.pairwise(rows)]
    usual = [log(weight) for weight in _USUAL]
    for _ in range(_ROUNDS):
        for span in spans:
            span.ask(usual)
        usual = _own(spans)
    far = frozenset(n for span in spans if span.last - span.first > _SURE_WITHIN for n in range(span.first, span.last))
    return Beats(rows[0][1], (*tuple(second for span in spans for second in span.seconds()), rows[-1][0]), far)


class _Span:
    """The beats from one tap to the next, and how far they are shifted at every fourth."""

    def __init__(self, start: float, end: float, first: int, last: int, onsets: Sequence[float]) -> None:
        self.start, self.first, self.last = start, first, last
        self.length = (end - start) / (last - first)
        low, high = bisect_left(onsets, start), bisect_left(onsets, end)
        self.notes = [(onset - start) / self.length for onset in onsets[low:high]]
        count = max(1, round((last - first) / EVERY))
        self.nodes = [(last - first) * n / count for n in range(count + 1)]
        self.shifts = [0.0] * (count + 1)

    def ask(self, usual: Sequence[float]) -> None:
        """Shifts at the inner nodes, from where the notes come."""
        inner = len(self.nodes) - 2
        if inner < 1 or not self.notes:
            return
        says = [self._says(node, usual) for node in range(1, inner + 1)]
        kernel = _kernel(WANDERS * sqrt((self.nodes[1] - self.nodes[0]) / EVERY))
        forward = _sums(says, kernel)
        backward = _sums(says[::-1], kernel)[::-1]
        for node in range(inner):
            likely = [f * b / max(e, 1e-300) for f, b, e in zip(forward[node], backward[node], says[node], strict=True)]
            total = sum(likely)
            self.shifts[node + 1] = (
                sum(p * (n - FARTHEST) for n, p in enumerate(likely)) / total / STEPS if total else 0.0
            )

    def _says(self, node: int, usual: Sequence[float]) -> list[float]:
        """How likely every shift makes the notes around a node."""
        half = (self.nodes[1] - self.nodes[0]) / 2
        low = bisect_left(self.notes, self.nodes[node] - half)
        high = bisect_left(self.notes, self.nodes[node] + half)
        total = [0.0] * (2 * FARTHEST + 1)
        for note in self.notes[low:high]:
            place = int(note * STEPS) + FARTHEST
            for shift in range(2 * FARTHEST + 1):
                total[shift] += usual[(place - shift) % STEPS]
        top = max(total)
        return [exp(TRUST * (value - top)) for value in total]

    def shift(self, beats: float) -> float:
        """Beats by which the even layout runs ahead, so many beats after the first tap."""
        at = min(max(bisect_right(self.nodes, beats) - 1, 0), len(self.nodes) - 2)
        part = (beats - self.nodes[at]) / (self.nodes[at + 1] - self.nodes[at])
        return self.shifts[at] + part * (self.shifts[at + 1] - self.shifts[at])

    def seconds(self) -> list[float]:
        return [self.start + (n + self.shift(n)) * self.length for n in range(self.last - self.first)]


def _kernel(width: float) -> list[float]:
    reach = min(FARTHEST, max(2, int(3 * width * STEPS + 0.5)))
    rows = [exp(-0.5 * (n / (width * STEPS)) ** 2) for n in range(-reach, reach + 1)]
    total = sum(rows)
    return [row / total for row in rows]


def _sums(says: Sequence[Sequence[float]], kernel: Sequence[float]) -> list[list[float]]:
    """Forward sums from a tap, where the shift is nothing."""
    size, reach = 2 * FARTHEST + 1, len(kernel) // 2
    now = [0.0] * size
    now[FARTHEST] = 1.0
    found = []
    for row in says:
        moved = [0.0] * size
        for n, p in enumerate(now):
            if p > 1e-9:
                for k, weight in enumerate(kernel, n - reach):
                    if 0 <= k < size:
                        moved[k] += p * weight
        now = [p * e for p, e in zip(moved, row, strict=True)]
        total = sum(now) or 1.0
        now = [p / total for p in now]
        found.append(now)
    return found


def _own(spans: Sequence[_Span]) -> list[float]:
    """How this player divides the beat, as far as there are notes to tell, smoothed over neighbours."""
    counts = [0.0] * STEPS
    for span in spans:
        for note in span.notes:
            counts[int((note - span.shift(note)) * STEPS) % STEPS] += 1
    size = sum(counts)
    smooth = [(counts[n - 1] + 2 * counts[n] + counts[(n + 1) % STEPS]) / 4 for n in range(STEPS)]
    return [log((c * STEPS + _OWN * u) / (size + _OWN)) for c, u in zip(smooth, _USUAL, strict=True)]
