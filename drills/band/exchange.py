"""A chorus of the band as a standard MIDI file: bass, piano and drums on tracks of their own, swung as it sounds."""

from __future__ import annotations

import io

import mido

from drills.midi import TICKS, conductor

from .chorus import Chorus, bass_as_line
from .feel import swing_ratio, swung
from .styles import DRUMS

BASS, PIANO, DRUM_CHANNEL = 0, 1, 9  # General MIDI: drums on channel 10
BASS_PROGRAM, PIANO_PROGRAM = 32, 0
LEVEL, STROKE = 84, 0.1  # velocity of bass and piano; length of a stroke in crotchets


def to_midi(chorus: Chorus, *, tempo: int, title: str) -> bytes:
    """The file; `tempo` in crotchets a minute."""
    ratio = swing_ratio(tempo) if chorus.style.swing else 1.0
    midi = mido.MidiFile(type=1, ticks_per_beat=TICKS)
    midi.tracks.append(conductor(bass_as_line(chorus, title), tempo, title))
    bass = [(float(n.start), float(n.end), n.pitch.midi, LEVEL) for n in chorus.bass if n.pitch]
    piano = [(float(v.start), float(v.start + v.length), p.midi, LEVEL - 16) for v in chorus.piano for p in v.pitches]
    drums = [
        (float(at), float(at) + STROKE, DRUMS[stroke.what], round(stroke.level * 110)) for at, stroke in chorus.drums
    ]
    midi.tracks.append(_track("Bass", bass, BASS, BASS_PROGRAM, ratio))
    midi.tracks.append(_track("Piano", piano, PIANO, PIANO_PROGRAM, ratio))
    midi.tracks.append(_track("Drums", drums, DRUM_CHANNEL, 0, ratio))
    data = io.BytesIO()
    midi.save(file=data)
    return data.getvalue()


def _track(
    name: str, sounds: list[tuple[float, float, int, int]], channel: int, program: int, ratio: float
) -> mido.MidiTrack:
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name=name, time=0))
    track.append(mido.Message("program_change", channel=channel, program=program, time=0))
    events = []
    for start, end, sound, level in sounds:
        events.append((round(swung(start, ratio) * TICKS), 1, sound, level))
        events.append((round(swung(end, ratio) * TICKS), 0, sound, 0))
    at = 0
    for tick, on, sound, level in sorted(events):
        message = "note_on" if on else "note_off"
        track.append(mido.Message(message, channel=channel, note=sound, velocity=level, time=tick - at))
        at = tick
    return track
