"""A line as a standard MIDI file: the line on channel 1, shell voicings of the changes on channel 2, sounding pitch."""

from __future__ import annotations

import io
from fractions import Fraction

import mido

from drills.lines.guide_tones import guide_tones_of
from drills.lines.line import Line
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import Pitch

TICKS = 480
LINE_CHANNEL, CHORD_CHANNEL = 0, 1
LINE_VELOCITY, CHORD_VELOCITY = 88, 52
ROOT_NEAR, SHELL_NEAR = 41, 55  # about F2 and G3


def to_midi(line: Line, *, tempo: int = 120, title: str = "") -> bytes:
    """The file; `tempo` in crotchets a minute."""
    midi = mido.MidiFile(type=1, ticks_per_beat=TICKS)
    midi.tracks.append(conductor(line, tempo, title or line.title))
    played = [
        (note.start, note.end, pitch.midi - line.shift.semitones)
        for note in line.notes
        if note.pitch
        for pitch in (note.pitch, *note.stack)
    ]
    midi.tracks.append(_track("Line", played, LINE_CHANNEL, LINE_VELOCITY))
    chords = [
        (chord.start, chord.end, sound)
        for chord in line.chords
        if chord.symbol
        for sound in shell(chord.symbol, -line.shift.semitones)
    ]
    if line.kind != "piano":  # there the line holds the chords already
        midi.tracks.append(_track("Changes", chords, CHORD_CHANNEL, CHORD_VELOCITY))
    data = io.BytesIO()
    midi.save(file=data)
    return data.getvalue()


def shell(symbol: ChordSymbol, shift: int = 0) -> list[int]:
    """Sounding MIDI notes of a bass note and the two guide tones; `shift` carries printed to sounding names."""
    bass = Pitch.nearest(symbol.bass or symbol.root, ROOT_NEAR - shift).midi + shift
    tones = [Pitch.nearest(tone.name, SHELL_NEAR - shift).midi + shift for tone in guide_tones_of(symbol)]
    return [bass, *sorted(tones)]


def conductor(line: Line, tempo: int, title: str) -> mido.MidiTrack:
    """The first track: title, tempo, changes of metre."""
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name=title.encode("ascii", "replace").decode(), time=0))
    track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo), time=0))
    at, metre = Fraction(0), None
    for bar in line.bars:
        if bar.metre != metre:
            metre = bar.metre
            track.append(
                mido.MetaMessage(
                    "time_signature", numerator=metre.beats, denominator=metre.unit, time=int((bar.start - at) * TICKS)
                )
            )
            at = bar.start
    track.append(mido.MetaMessage("end_of_track", time=int((line.duration - at) * TICKS)))
    return track


def _track(name: str, sounds: list[tuple[Fraction, Fraction, int]], channel: int, velocity: int) -> mido.MidiTrack:
    events: list[tuple[int, int, int]] = []  # tick, 0 for off before 1 for on, note
    for start, end, sound in sounds:
        events += [(int(start * TICKS), 1, sound), (int(end * TICKS), 0, sound)]
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name=name, time=0))
    at = 0
    for tick, on, sound in sorted(events):
        message = "note_on" if on else "note_off"
        track.append(mido.Message(message, channel=channel, note=sound, velocity=velocity if on else 0, time=tick - at))
        at = tick
    return track
