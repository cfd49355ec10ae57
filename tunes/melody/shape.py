"""The shape of a solo over the form: range, density, phrases, rests, contour.

A phrase ends where nothing sounds for a beat and a half, or where the writer says so. Its contour is named as Huron
does ("The melodic arch in Western folksongs", *Computing in Musicology* 10, 1996): first note, mean of the notes between, last note.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from .columns import columns
from .notes import CLOSE, Grid, GridBar, Note, Place, Time

Contour = Literal["arch", "bowl", "rising", "falling", "level"]
_LEVEL = 1.0
"""Semitones within which a contour is level."""


@dataclass(frozen=True, slots=True)
class Phrase:
    """Notes `first` to `last`: where it begins, where its last note begins, how long it sounds (crotchets), its contour."""

    first: int
    last: int
    begins: Place
    ends: Place
    form_bar: int
    end_form_bar: int
    chorus: int
    length: float
    contour: Contour

    @property
    def notes(self) -> int:
        return self.last - self.first + 1


@dataclass(frozen=True, slots=True)
class BarShape:
    """One bar: notes that begin in it, silence in crotchets, mean pitch of what sounds in each beat (None: nothing)."""

    bar: GridBar
    onsets: tuple[Time, ...]
    rest: float
    heights: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Shape:
    """low, high  MIDI pitches, None without notes. density  notes for each bar that is played in."""

    low: int | None
    high: int | None
    density: float
    bars: tuple[BarShape, ...]
    phrases: tuple[Phrase, ...]

    @property
    def range(self) -> int:
        """Semitones from the lowest to the highest note."""
        return self.high - self.low if self.high is not None and self.low is not None else 0


def shape(notes: Sequence[Note], grid: Grid) -> Shape:
    """Notes in order of time; every bar of the grid is told, played in or not."""
    midi = [note.midi for note in notes]
    bars = tuple(_bar(bar, notes, ends) for ends in [_ends(notes, grid)] for bar in grid.bars)
    played = sum(bool(bar.onsets) for bar in bars)
    counted = sum(len(bar.onsets) for bar in bars)
    return Shape(
        min(midi, default=None),
        max(midi, default=None),
        counted / played if played else 0.0,
        bars,
        _phrases(notes, grid),
    )


def _ends(notes: Sequence[Note], grid: Grid) -> list[float]:
    return columns(notes, (), grid).end


def _bar(bar: GridBar, notes: Sequence[Note], ends: Sequence[float]) -> BarShape:
    start, end = float(bar.start), float(bar.start + bar.length)
    sounding = [
        (max(float(n.onset), start), min(e, end), n.midi)
        for n, e in zip(notes, ends, strict=True)
        if float(n.onset) < end - CLOSE and e > start + CLOSE
    ]
    onsets = tuple(n.onset for n in notes if start - CLOSE <= float(n.onset) < end - CLOSE)
    beats = round(float(bar.length / bar.beat))
    step = float(bar.beat)
    heights = tuple(_height(sounding, start + n * step, start + (n + 1) * step) for n in range(beats))
    return BarShape(bar, onsets, max(0.0, end - start - sum(b - a for a, b, _ in sounding)), heights)


def _height(sounding: Sequence[tuple[float, float, int]], start: float, end: float) -> float | None:
    parts = [(min(b, end) - max(a, start), midi) for a, b, midi in sounding if a < end - CLOSE and b > start + CLOSE]
    total = sum(length for length, _ in parts)
    return sum(length * midi for length, midi in parts) / total if total > 0 else None


def _phrases(notes: Sequence[Note], grid: Grid) -> tuple[Phrase, ...]:
    c = columns(notes, (), grid)
    found, first = [], 0
    for index in range(len(notes)):
        if c.joined[index]:
            continue
        begins, ends = grid.bar_at(notes[first].onset), grid.bar_at(notes[index].onset)
        found.append(
            Phrase(first, index, grid.place(notes[first].onset), grid.place(notes[index].onset), begins.form_bar, ends.form_bar,
                   begins.chorus, c.end[index] - c.onset[first], contour(c.midi[first : index + 1]))
        )  # fmt: skip
        first = index + 1
    return tuple(found)


def contour(midi: Sequence[int]) -> Contour:
    """Of first, middle and last.

    >>> contour((60, 64, 67, 64, 60)), contour((60, 62, 64)), contour((67, 67)), contour((67, 60, 67))
    ('arch', 'rising', 'level', 'bowl')
    """
    first, last = midi[0], midi[-1]
    middle = sum(midi[1:-1]) / len(midi[1:-1]) if len(midi) > 2 else (first + last) / 2
    if middle > max(first, last) + _LEVEL:
        return "arch"
    if middle < min(first, last) - _LEVEL:
        return "bowl"
    if abs(last - first) <= _LEVEL:
        return "level"
    return "rising" if last > first else "falling"
