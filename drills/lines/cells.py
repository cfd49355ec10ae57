"""Filling chords with running notes: how many, in which direction, from where.

A chord of `duration` crotchets takes notes of one value (quavers or crotchets) until it is full; a remainder
shorter than the value becomes one shorter note. A cell walks over a ladder of pitches and turns at its ends.
"""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass
from fractions import Fraction

from tunes.harmony.pitch.spelling import NoteName, Pitch

from .compass import Compass
from .line import LineChord, LineNote

DIRECTIONS = ("up", "down", "alternating")
UP, DOWN = 1, -1


@dataclass(frozen=True, slots=True)
class Rung:
    """One pitch of a ladder and its degree against the chord."""

    pitch: Pitch
    degree: str


def slots(duration: Fraction, value: Fraction) -> tuple[Fraction, ...]:
    """Lengths that fill a duration: as many of `value` as fit, then what is left.

    >>> slots(Fraction(3, 2), Fraction(1))
    (Fraction(1, 1), Fraction(1, 2))
    """
    count = int(duration // value)
    rest = duration - count * value
    return (value,) * count + ((rest,) if rest else ())


def bounce(count: int, size: int, start: int, direction: int) -> list[int]:
    """`count` places on a ladder of `size` rungs, turning round at its ends.

    >>> bounce(8, 5, 0, UP), bounce(6, 4, 3, DOWN)
    ([0, 1, 2, 3, 4, 3, 2, 1], [3, 2, 1, 0, 1, 2])
    """
    at, heading, places = start, direction, []
    for _ in range(count):
        places.append(at)
        if size > 1:
            if not 0 <= at + heading < size:
                heading = -heading
            at += heading
    return places


def way(direction: str, turn: int) -> int:
    """Up or down for the `turn`-th chord of a drill."""
    if direction == "alternating":
        return UP if turn % 2 == 0 else DOWN
    return DOWN if direction == "down" else UP


def ladder(names: Sequence[tuple[str, NoteName]], low: Pitch) -> tuple[Rung, ...]:
    """Names stacked upwards from a lowest pitch, each the next one above."""
    rungs: list[Rung] = []
    at = low
    for index, (degree, name) in enumerate(names):
        if index:
            at = above(name, at)
        rungs.append(Rung(at, degree))
    return tuple(rungs)


def above(name: NoteName, pitch: Pitch) -> Pitch:
    """The next pitch of a name above another, by letter, then by sign (B sharp and B natural are above B flat)."""
    octave = pitch.octave + (1 if (name.step, name.alter) <= (pitch.name.step, pitch.name.alter) else 0)
    return Pitch(name, octave)


def place_ladder(names: Sequence[tuple[str, NoteName]], compass: Compass, near: int) -> tuple[Rung, ...]:
    """The ladder in the octave that fits the easy range best, and among those begins nearest to `near`."""
    first = Pitch.nearest(names[0][1], near)
    tries = [ladder(names, Pitch(first.name, first.octave + shift)) for shift in (-2, -1, 0, 1, 2)]
    return min(tries, key=lambda rungs: (_misfit(rungs, compass), abs(_centre(rungs) - near)))


def _misfit(rungs: Sequence[Rung], compass: Compass) -> int:
    """Semitones outside the easy range, those outside the whole range counted ten times."""
    low = min(rung.pitch.midi for rung in rungs)
    high = max(rung.pitch.midi for rung in rungs)
    easy = max(compass.easy_low - low, 0) + max(high - compass.easy_high, 0)
    hard = max(compass.low - low, 0) + max(high - compass.high, 0)
    return easy + 10 * hard


def _centre(rungs: Sequence[Rung]) -> int:
    return (rungs[0].pitch.midi + rungs[-1].pitch.midi) // 2


def fill(
    chord: LineChord, rungs: Sequence[Rung], value: Fraction, direction: int, must: Container[int] = ()
) -> list[LineNote]:
    """One chord filled from its ladder: upwards from the bottom, or downwards so that it ends at the bottom.

    `must` are pitch classes that have to come: where the cell would not reach one, it begins or ends with it.
    """
    lengths = slots(chord.duration, value)
    top = min(len(rungs), max(len(lengths), 1)) - 1
    start = 0 if direction == UP else top
    places = bounce(len(lengths), len(rungs) if direction == UP else top + 1, start, direction)
    wanted = [at for at, rung in enumerate(rungs) if rung.pitch.name.pc in must]
    if wanted and not set(wanted) & set(places):
        low = max(0, wanted[0] - len(lengths) + 1)
        places = bounce(len(lengths), len(rungs), low if direction == UP else wanted[0], direction)
    return laid_out(chord, [rungs[place] for place in places], lengths)


def laid_out(chord: LineChord, rungs: Sequence[Rung], lengths: Sequence[Fraction]) -> list[LineNote]:
    """Notes one after the other from the start of a chord."""
    notes, time = [], chord.start
    for rung, length in zip(rungs, lengths, strict=True):
        notes.append(LineNote(rung.pitch, time, length, chord.event, rung.degree))
        time += length
    return notes


def run_on(
    chord: LineChord,
    rungs: Sequence[Rung],
    value: Fraction,
    last: Pitch | None,
    direction: int,
    middle: int,
    must: Container[int] = (),
) -> tuple[list[LineNote], int]:
    """A chord of a continuous line: from the rung nearest to `last` (but not on it), on in the same direction.

    Returns the notes and the direction in which the line then moves. Turns at the ends of the ladder. `must` are pitch classes
    that have to come: the line begins on the nearest rung from which it reaches one, turning round if it has to.
    """
    lengths = slots(chord.duration, value)
    order = _nearest(rungs, last, direction, middle)
    tries = [(at, way) for at in order for way in (direction, -direction)] if must else []
    walks = (_walk(rungs, len(lengths), at, way) for at, way in tries)
    chosen, direction = next(
        (walk for walk in walks if any(rung.pitch.name.pc in must for rung in walk[0])),
        _walk(rungs, len(lengths), order[0], direction),
    )
    return laid_out(chord, chosen, lengths), direction


def _walk(rungs: Sequence[Rung], count: int, at: int, direction: int) -> tuple[list[Rung], int]:
    chosen = []
    for _ in range(count):
        chosen.append(rungs[at])
        if not 0 <= at + direction < len(rungs):
            direction = -direction
        at = max(0, min(at + direction, len(rungs) - 1))
    return chosen, direction


def _nearest(rungs: Sequence[Rung], last: Pitch | None, direction: int, middle: int) -> list[int]:
    """Rungs, the nearest to the last note first, another note than it; the one ahead when two are as near.

    A line begins on the root nearest to the middle.
    """
    if last is None:
        return sorted(range(len(rungs)), key=lambda i: (rungs[i].degree != "1", abs(rungs[i].pitch.midi - middle)))
    here = last.midi
    gaps = [rung.pitch.midi - here for rung in rungs]
    others = [i for i, gap in enumerate(gaps) if gap] or list(range(len(rungs)))
    return sorted(others, key=lambda i: (abs(gaps[i]), gaps[i] * direction < 0))
