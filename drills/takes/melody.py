"""The kept melody of a chart as a line on a staff, for the page of a take of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from drills.lines.build import Recipe, chosen
from drills.lines.line import Line, LineBar, LineNote
from drills.lines.notate import VALUES
from tunes.harmony.pitch.spelling import Key, Pitch, transposition
from tunes.interchange.melody import Melody
from tunes.pitch import Sight, seen
from tunes.study import StudyChart

FINEST = min(length for length, (_, dots) in VALUES.items() if not dots)
TITLE = "The melody"


class NotOnAStaff(ValueError):
    """The melody has values that a drill's staff does not write; the message says what stands there instead."""


def semitones(own: Key, key: Key | None) -> int:
    """How far a chart moves to another key: by the nearer way."""
    up = (key.tonic.pc - own.tonic.pc) % 12 if key else 0
    return up - 12 if up > 6 else up


def sounding(study: StudyChart, melody: Melody) -> list[tuple[Fraction, Fraction, Pitch]]:
    """The melody along one chorus in concert pitch, in the chart's own key: (start, duration) in crotchets, tied notes joined."""
    found: list[tuple[Fraction, Fraction, Pitch]] = []
    start = Fraction(0)
    for place in study.chart.unfold():
        bar = study.chart.bars[place.bar]
        crotchet = Fraction(4, bar.metre.unit)
        for note in melody.notes:
            if note.bar != place.bar:
                continue
            at, length = start + note.start * crotchet, note.duration * crotchet
            if note.tied and found and found[-1][2].midi == note.pitch.midi:
                found[-1] = (found[-1][0], found[-1][1] + length, found[-1][2])
            else:
                found.append((at, length, note.pitch))
        start += bar.beats * crotchet
    return found


def melody_line(study: StudyChart, melody: Melody, sight: Sight) -> Line:
    """The melody as its player reads it: in the key and for the instrument of `sight`, at the pitch that was asked for.

    Raises `NotOnAStaff`, and `EmptyPassage` for a chart without chords.
    """
    printed = seen(study, sight)
    passage = chosen(printed, Recipe())
    bars = tuple(replace(bar, area=None) for bar in passage.bars)  # a melody tells no analysis
    reader = sight.instrument
    move = semitones(study.key, sight.key) + reader.interval.semitones
    step = transposition(study.key, printed.key)
    notes = [
        LineNote(Pitch.nearest((pitch + step).name, pitch.midi + move), at, length, 0)
        for at, length, pitch in sounding(study, melody)
    ]
    if any((time / FINEST).denominator != 1 for note in notes for time in (note.start, note.duration)):
        raise NotOnAStaff("The melody has triplets, which this staff does not write: its bars stand over the chart.")
    return Line(
        kind="melody", title=TITLE, key=passage.key, bars=bars, chords=passage.chords,
        notes=tuple(_with_rests(notes, bars)), clef=reader.clef, written_for="" if reader.is_concert else reader.key,
        shift=reader.interval,
    )  # fmt: skip


def _with_rests(notes: list[LineNote], bars: tuple[LineBar, ...]) -> Iterator[LineNote]:
    """Every note, and a rest for each silence of a bar; a note ends where the next begins."""
    now = Fraction(0)
    for note, end in zip(notes, [*(one.start for one in notes[1:]), bars[-1].end], strict=True):
        yield from _rests(now, note.start, bars)
        length = min(note.duration, end - note.start)
        if length > 0:
            yield LineNote(note.pitch, note.start, length, note.event)
        now = max(now, note.start + length)
    yield from _rests(now, bars[-1].end, bars)


def _rests(start: Fraction, end: Fraction, bars: tuple[LineBar, ...]) -> Iterator[LineNote]:
    for bar in bars:
        low, high = max(start, bar.start), min(end, bar.end)
        if low < high:
            yield LineNote(None, low, high - low, 0)
