"""A line as a standard MIDI file: the line on channel 1, shell voicings of the changes on channel 2, sounding pitch."""

from __future__ import annotations

from fractions import Fraction

from drills.lines.guide_tones import guide_tones_of
from drills.lines.line import Line
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import Pitch
from tunes.notation import midi

LINE_CHANNEL, CHORD_CHANNEL = 0, 1
LINE_VELOCITY, CHORD_VELOCITY = 88, 52
ROOT_NEAR, SHELL_NEAR = 41, 55  # about F2 and G3


def to_midi(line: Line, *, tempo: int = 120, title: str = "") -> bytes:
    """The file; `tempo` in crotchets a minute."""
    played = [
        _sound(note.start, note.end, pitch.midi - line.shift.semitones, LINE_VELOCITY)
        for note in line.notes
        if note.pitch
        for pitch in (note.pitch, *note.stack)
    ]
    tracks = [conductor(line, tempo, title or line.title), midi.track("Line", played, LINE_CHANNEL)]
    if line.kind != "piano":  # there the line holds the chords already
        chords = [
            _sound(chord.start, chord.end, note, CHORD_VELOCITY)
            for chord in line.chords
            if chord.symbol
            for note in shell(chord.symbol, -line.shift.semitones)
        ]
        tracks.append(midi.track("Changes", chords, CHORD_CHANNEL))
    return midi.file_of(tracks)


def _sound(start: Fraction, end: Fraction, note: int, velocity: int) -> midi.Sound:
    return midi.Sound(int(start * midi.TICKS), int(end * midi.TICKS), note, velocity)


def shell(symbol: ChordSymbol, shift: int = 0) -> list[int]:
    """Sounding MIDI notes of a bass note and the two guide tones; `shift` carries printed to sounding names."""
    bass = Pitch.nearest(symbol.bass or symbol.root, ROOT_NEAR - shift).midi + shift
    tones = [Pitch.nearest(tone.name, SHELL_NEAR - shift).midi + shift for tone in guide_tones_of(symbol)]
    return [bass, *sorted(tones)]


def conductor(line: Line, tempo: int, title: str) -> midi.Track:
    """The first track: title, tempo, changes of metre."""
    return midi.conductor(((bar.start, bar.metre) for bar in line.bars), line.duration, tempo, title)
