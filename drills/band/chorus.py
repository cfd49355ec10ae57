"""One chorus of the band: the three parts together, as data for the page's sound and as lines to show and print."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from drills.lines.line import Line, LineNote
from drills.lines.passage import Passage
from drills.lines.scales import ScaleOf

from .bass import bass_line
from .comping import Voiced, comping
from .styles import Stroke, Style

EIGHT = 8


@dataclass(frozen=True, slots=True)
class Chorus:
    """bass    notes in sounding pitch.
    piano   voicings in sounding pitch.
    drums   (start in crotchets from the chorus's beginning, stroke).
    """

    passage: Passage
    style: Style
    bass: tuple[LineNote, ...]
    piano: tuple[Voiced, ...]
    drums: tuple[tuple[Fraction, Stroke], ...]


def play_chorus(passage: Passage, style: Style, scale_of: ScaleOf, seed: str) -> Chorus:
    """The chorus of a seed; each part draws from a source of its own, so that leaving one out changes no other."""
    return Chorus(
        passage,
        style,
        tuple(bass_line(passage, style, scale_of, random.Random(f"{seed}:bass"))),
        tuple(comping(passage, style, scale_of, random.Random(f"{seed}:piano"))),
        tuple(drums(passage, style)),
    )


def drums(passage: Passage, style: Style) -> list[tuple[Fraction, Stroke]]:
    """The strokes of a chorus: the bar of the style, a fill in every eighth bar of a section, a cymbal at the top."""
    found: list[tuple[Fraction, Stroke]] = []
    since = 0
    for index, bar in enumerate(passage.bars):
        since = 1 if bar.label else since + 1
        if bar.length != style.length:
            strokes: tuple[Stroke, ...] = tuple(Stroke(Fraction(beat), "ride", 0.6) for beat in range(int(bar.length)))
        elif since % EIGHT == 0:
            strokes = style.fill
        else:
            strokes = style.drums
        if index == 0:
            strokes = (Stroke(Fraction(0), "crash", 0.4), *strokes)
        found += [(bar.start + stroke.at, stroke) for stroke in strokes]
    return found


def bass_as_line(chorus: Chorus, title: str) -> Line:
    """The bass part as a line in bass clef, concert pitch: to show, to print, to take away."""
    return _line(chorus.passage, "bass", title, chorus.bass, "bass")


def piano_as_line(chorus: Chorus, title: str) -> Line:
    """The piano part as a line of stacked notes in treble clef, concert pitch. A chord that comes early is written early."""
    notes = [
        LineNote(voiced.pitches[0], voiced.start, voiced.length, voiced.event, stack=voiced.pitches[1:])
        for voiced in chorus.piano
    ]
    return _line(chorus.passage, "comping", title, notes, "treble")


def _line(part: Passage, kind: str, title: str, played: Sequence[LineNote], clef: str) -> Line:
    notes: list[LineNote] = []
    time = Fraction(0)
    for note in played:
        if note.start > time:
            notes.append(LineNote(None, time, note.start - time, note.event))
        notes.append(note)
        time = note.end
    if time < part.bars[-1].end:
        notes.append(LineNote(None, time, part.bars[-1].end - time, part.chords[-1].event))
    return Line(kind, title, part.key, part.bars, part.chords, tuple(notes), clef=clef)


def in_sound(chorus: Chorus) -> dict[str, Any]:
    """Plain data for the page's sound: places and lengths in crotchets, straight; pitches as sounding MIDI numbers."""
    part = chorus.passage
    return {
        "bars": [
            [bar.number, float(bar.start), float(bar.length), bar.metre.beats, bar.metre.unit] for bar in part.bars
        ],
        "swing": chorus.style.swing,
        "bass": [[float(note.start), float(note.duration), note.pitch.midi] for note in chorus.bass if note.pitch],
        "piano": [[float(v.start), float(v.length), *(pitch.midi for pitch in v.pitches)] for v in chorus.piano],
        "drums": [[float(start), stroke.what, stroke.level] for start, stroke in chorus.drums],
    }
