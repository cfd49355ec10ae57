"""What the bass says under the chords: a note that stays, or a line by step.

A pedal is a bass held while the chords over it change (Kostka & Payne, *Tonal Harmony*, pedal point); a bass line by step under
inversions is common practice, no single source.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import NamedTuple

from tunes.harmony.pitch.spelling import degree_interval
from tunes.harmony.readings.reading import Analysis, Reading
from tunes.harmony.readings.reason import Args, Named

_LEAST = 3  # notes of a line
_FLAT = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
_SHARP = ("1", "#1", "2", "b3", "3", "4", "#4", "5", "#5", "6", "b7", "7")
_RISING_MINOR = (*_FLAT[:6], "#4", *_FLAT[7:])
_MEMBERS = {3: "3rd", 4: "3rd", 6: "5th", 7: "5th", 8: "5th", 9: "7th", 10: "7th", 11: "7th"}


class Run(NamedTuple):
    """The events `first` to `last` over a pedal or over a line; `degrees` of the bass; `falls`
    tells a line down from a line up."""

    first: int
    last: int
    degrees: tuple[str, ...]
    falls: bool = False


def root_of(reading: Reading) -> int:
    """The pitch class of a chord's root."""
    return (reading.key.tonic.pc + degree_interval(reading.function.degree).semitones) % 12


def held_degree(analysis: Analysis, basses: Sequence[int | None], event: int) -> str:
    """The degree of the key that the bass of an event has."""
    return _FLAT[((basses[event] or 0) - analysis.readings[event].key.tonic.pc) % 12]


def lines(analysis: Analysis, basses: Sequence[int | None]) -> list[Run]:
    """Runs of three basses or more by step in one direction, some chord of them not on its root."""
    notes = [list(group) for _, group in itertools.groupby(range(len(basses)), key=basses.__getitem__)]
    found: list[Run] = []
    start = 0
    for place in range(1, len(notes) + 1):
        step = _step(basses, notes, place)
        if place - start > 1 and step and step == _step(basses, notes, place - 1):
            continue
        if place - start == 1 and step:
            continue
        run = notes[start:place]
        if len(run) >= _LEAST and _some_inverted(analysis, basses, run):
            found.append(_line(analysis, basses, run))
        start = place - 1 if step else place
    return found


def _step(basses: Sequence[int | None], notes: Sequence[Sequence[int]], place: int) -> int:
    """-1 or 1 when the bass falls or rises by step to a note from the one before it, else 0."""
    if not 0 < place < len(notes):
        return 0
    a, b = basses[notes[place - 1][0]], basses[notes[place][0]]
    if a is None or b is None:
        return 0
    return {1: 1, 2: 1, 10: -1, 11: -1}.get((b - a) % 12, 0)


def _some_inverted(analysis: Analysis, basses: Sequence[int | None], run: Sequence[Sequence[int]]) -> bool:
    return any(inverted(analysis.readings[event], basses) for note in run for event in note)


def inverted(reading: Reading, basses: Sequence[int | None]) -> bool:
    """Whether a chord does not stand on its root."""
    bass = basses[reading.event]
    return bass is not None and bass != root_of(reading)


def _line(analysis: Analysis, basses: Sequence[int | None], run: Sequence[Sequence[int]]) -> Run:
    falls = _step(basses, run, 1) < 0
    tonic = analysis.readings[run[0][0]].key.tonic.pc
    minor = analysis.readings[run[0][0]].key.mode == "minor"
    names = _FLAT if falls else _RISING_MINOR if minor else _SHARP
    degrees = tuple(
        _as_root(analysis, basses, note[0], tonic) or names[((basses[note[0]] or 0) - tonic) % 12] for note in run
    )
    return Run(run[0][0], run[-1][-1], degrees, falls)


def _as_root(analysis: Analysis, basses: Sequence[int | None], event: int, tonic: int) -> str:
    """The degree of a bass that is the root of a chord in the key of the line, as the chord is called; "" for any other."""
    reading = analysis.readings[event]
    elsewhere = reading.key.tonic.pc != tonic or basses[event] is None
    return "" if elsewhere or inverted(reading, basses) else reading.function.degree


def member(reading: Reading, basses: Sequence[int | None]) -> Args:
    """Which note of the chord is in the bass: its "3rd"; another note by its degree in the key."""
    bass = basses[reading.event] or 0
    known = _MEMBERS.get((bass - root_of(reading)) % 12, "")
    return Args(member=known) if known else Args(aim=Named(degree=_FLAT[(bass - reading.key.tonic.pc) % 12]))
