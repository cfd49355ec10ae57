"""The bars that a carried line is shown in, and the notes that join it to what comes before and after."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from drills.lines.compass import Compass
from drills.lines.line import LineBar, LineChord, LineNote
from drills.lines.passage import Passage

from .cut import CutLine
from .fitting import nearest_tone
from .places import Place

SHORTEST_JOIN = Fraction(1)
"""Crotchets that a joining note needs."""


@dataclass(frozen=True, slots=True)
class Window:
    """Bars and chords of a stretch of the form, its times from 0; start  where it begins in the chorus."""

    start: Fraction
    bars: tuple[LineBar, ...]
    chords: tuple[LineChord, ...]

    @property
    def end(self) -> Fraction:
        return self.bars[-1].end


def until_joined(line: CutLine, place: Place, last: LineNote) -> Fraction:
    """The end of what is shown: the bar after, where another chord comes within a bar of the last note; else the last note."""
    after = next((start for start in (*place.starts, place.ends) if start > last.start), place.ends)
    return max(after, last.end) + Fraction(1) if after - last.end < line.bar else last.end


def window_of(part: Passage, start: Fraction, end: Fraction) -> Window:
    """The whole bars that hold a stretch; past the end of the form its top follows."""
    length = part.bars[-1].end
    rounds = range(int(start // length), int(-(-end // length)) + 1)
    bars = [replace(bar, start=bar.start + n * length, label="", area=None) for n in rounds for bar in part.bars]
    bars = [bar for bar in bars if bar.end > start and bar.start < end]
    first, last = bars[0].start, bars[-1].end
    chords = [replace(c, start=c.start + n * length) for n in rounds for c in part.chords]
    kept = [c for c in chords if c.start < last and c.end > first]
    begun = [replace(c, start=max(c.start, first), duration=min(c.end, last) - max(c.start, first)) for c in kept]
    return Window(
        first,
        tuple(replace(bar, start=bar.start - first) for bar in bars),
        tuple(replace(c, start=c.start - first) for c in begun),
    )


def without_silence(notes: list[LineNote], window: Window) -> tuple[list[LineNote], Window]:
    """Without whole bars of rest before the first note."""
    first = next(bar.start for bar in window.bars if bar.end > notes[0].start)
    if not first:
        return notes, window
    bars = tuple(replace(bar, start=bar.start - first) for bar in window.bars if bar.start >= first)
    chords = tuple(
        replace(c, start=max(c.start, first) - first, duration=c.end - max(c.start, first))
        for c in window.chords if c.end > first
    )  # fmt: skip
    return [replace(note, start=note.start - first) for note in notes], Window(window.start + first, bars, chords)


def joined(notes: Sequence[LineNote], window: Window, compass: Compass, *, before: bool = True) -> list[LineNote]:
    """The line with a chord tone before it (where asked, and where a chord sounds first), and one over the next chord after it.

    Its own first note, played before it, joins nothing: then there is a rest.
    """
    first, last = notes[0], notes[-1]
    result = list(notes)
    chord = next((c for c in reversed(window.chords) if before and c.start < first.start and c.symbol), None)
    if chord and chord.symbol and first.pitch and first.start - chord.start >= SHORTEST_JOIN:
        pitch, degree = nearest_tone(chord.symbol, first.pitch, compass)
        if pitch.midi != first.pitch.midi:
            result.insert(0, LineNote(pitch, chord.start, first.start - chord.start, chord.event, degree))
    under = next((c.symbol for c in window.chords if c.start <= last.start < c.end), None)
    after = next((c for c in window.chords if c.start >= last.end and c.symbol), None)
    if after and after.symbol and after.symbol != under and last.pitch:  # a harmony that stands still needs no joining
        pitch, degree = nearest_tone(after.symbol, last.pitch, compass)
        bar = next(bar for bar in window.bars if bar.start <= after.start < bar.end)
        result.append(LineNote(pitch, after.start, min(after.end, bar.end) - after.start, after.event, degree))
    return result


def with_rests(notes: Sequence[LineNote], window: Window) -> list[LineNote]:
    result: list[LineNote] = []
    time = Fraction(0)
    for note in notes:
        if note.start > time:
            result.append(LineNote(None, time, note.start - time, note.event))
        result.append(note)
        time = note.end
    if time < window.end:
        result.append(LineNote(None, time, window.end - time, window.chords[-1].event))
    return result
