"""What a note is beside its neighbours: the questions that the rules of `roles` and `figures` ask of a melody's columns."""

from __future__ import annotations

from .columns import Columns
from .notes import CLOSE
from .tones import Tones

STEP = 2
"""Semitones of the widest step."""
DOUBLE_TIME = 0.3
"""Crotchets: lines of shorter notes have half a beat for their beat."""
LONGEST = 1.5
"""Crotchets from one note of a figure to the next: a note that lasts longer is heard for itself."""


def step(c: Columns, a: int, b: int) -> int:
    return c.midi[b] - c.midi[a]


def before(c: Columns, i: int) -> int | None:
    return i - 1 if i > 0 and c.joined[i - 1] else None


def after(c: Columns, i: int) -> int | None:
    return i + 1 if c.joined[i] else None


def fits(tones: Tones | None, midi: int) -> bool:
    return tones is not None and (midi - tones.root) % 12 in tones.inside


def stable(c: Columns, i: int) -> bool:
    """A chord tone, or a tension that the chord can hold."""
    tones = c.over[i]
    return tones is not None and (c.inside[i] or (c.midi[i] - tones.root) % 12 in tones.colours)


def stays(c: Columns, t: int) -> bool:
    """Whether a note is longer than the one before by half, or ends the melody."""
    return t + 1 == len(c.midi) or c.onset[t + 1] - c.onset[t] >= 1.5 * (c.onset[t] - c.onset[t - 1]) - CLOSE


def lands(c: Columns, t: int) -> bool:
    """Whether a note is on a beat (in double time on half a beat), or longer than the one before by half."""
    half_beat = abs(c.onset[t] * 2 - round(c.onset[t] * 2)) <= CLOSE
    return c.beat[t] > 0 or stays(c, t) or (half_beat and c.onset[t] - c.onset[t - 1] <= DOUBLE_TIME)


def lasts(c: Columns, i: int) -> bool:
    """Whether it is a beat or more to the next note."""
    return c.onset[i + 1] - c.onset[i] >= 1 - CLOSE


def lingers(c: Columns, a: int, t: int) -> bool:
    """Whether a note of a figure lasts so long that it is heard for itself."""
    return any(c.onset[k + 1] - c.onset[k] > LONGEST + CLOSE for k in range(a, t))
