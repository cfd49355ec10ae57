"""A melody as columns of plain numbers, which rules and shapes are read from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from .notes import CLOSE, Change, Grid, Note
from .tones import Tones, tones_of

PHRASE_REST = 1.5
"""Crotchets of silence that end a phrase, where nobody has marked one."""


@dataclass(slots=True)
class Columns:
    """A melody as columns, one entry per note.

    chord  index of the change that sounds, -1 for none; over  its tones; inside  whether the note is a chord tone.
    beat   3 on the first beat of a bar, 2 on the middle of an even bar, 1 on any other beat, 0 off the beat.
    joined whether the next note belongs to the same phrase.
    """

    midi: list[int] = field(default_factory=list)
    onset: list[float] = field(default_factory=list)
    end: list[float] = field(default_factory=list)
    chord: list[int] = field(default_factory=list)
    over: list[Tones | None] = field(default_factory=list)
    inside: list[bool] = field(default_factory=list)
    beat: list[int] = field(default_factory=list)
    joined: list[bool] = field(default_factory=list)
    starts: list[float] = field(default_factory=list)
    tones: list[Tones | None] = field(default_factory=list)


def columns(notes: Sequence[Note], changes: Sequence[Change], grid: Grid) -> Columns:
    """Notes in order of onset, against changes in order of start."""
    c = Columns()
    c.midi = [note.midi for note in notes]
    c.onset = [float(note.onset) for note in notes]
    c.starts = [float(change.start) for change in changes]
    c.tones = [tones_of(change.symbol) if change.symbol else None for change in changes]
    at = -1
    for onset in c.onset:
        while at + 1 < len(c.starts) and c.starts[at + 1] <= onset + CLOSE:
            at += 1
        c.chord.append(at if at >= 0 and c.tones[at] else -1)
    c.over = [c.tones[at] if at >= 0 else None for at in c.chord]
    c.inside = [t is not None and (m - t.root) % 12 in t.inside for m, t in zip(c.midi, c.over, strict=True)]
    c.end = _ends(notes, c.onset)
    c.joined = _joined(notes, c)
    c.beat = _beats(c.onset, grid)
    return c


def _ends(notes: Sequence[Note], onset: Sequence[float]) -> list[float]:
    """Where each note stops sounding: never after the next begins; unknown durations last until then, at most a beat."""
    ends = []
    for index, note in enumerate(notes):
        following = onset[index + 1] if index + 1 < len(onset) else onset[index] + 1.0
        length = float(note.duration) if note.duration is not None else min(following - onset[index], 1.0)
        ends.append(min(onset[index] + length, max(following, onset[index])))
    return ends


def _joined(notes: Sequence[Note], c: Columns) -> list[bool]:
    joined = [b - a <= PHRASE_REST for a, b in zip(c.end, c.onset[1:], strict=False)]
    for index, note in enumerate(notes[1:]):
        if note.phrase:
            joined[index] = False
    return [*joined, False][: len(notes)]


def _beats(onset: Sequence[float], grid: Grid) -> list[int]:
    bar = grid.bars[0]
    if len({(b.length, b.beat) for b in grid.bars}) == 1:
        length, beat, start = float(bar.length), float(bar.beat), float(bar.start)
        return [_weight((x - start) % length, length, beat) for x in onset]
    weights = []
    for x in onset:
        bar = grid.bar_at(x)
        weights.append(_weight(x - float(bar.start), float(bar.length), float(bar.beat)))
    return weights


def _weight(here: float, length: float, beat: float) -> int:
    beats = here / beat
    whole = round(beats)
    if abs(beats - whole) * beat > CLOSE:
        return 0
    count = round(length / beat)
    if whole % count == 0:
        return 3
    return 2 if count % 2 == 0 and whole == count // 2 else 1
