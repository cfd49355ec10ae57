"""A chorus of the band as a standard MIDI file: bass, piano and drums on tracks of their own, swung as it sounds."""

from __future__ import annotations

from drills.midi import conductor
from tunes.notation.midi import TICKS, Sound, file_of, track

from .chorus import Chorus, bass_as_line
from .feel import swing_ratio, swung
from .styles import DRUMS

BASS, PIANO, DRUM_CHANNEL = 0, 1, 9  # General MIDI: drums on channel 10
BASS_PROGRAM, PIANO_PROGRAM = 32, 0
LEVEL, STROKE = 84, 0.1  # velocity of bass and piano; length of a stroke in crotchets


def to_midi(chorus: Chorus, *, tempo: int, title: str) -> bytes:
    """The file; `tempo` in crotchets a minute."""
    ratio = swing_ratio(tempo) if chorus.style.swing else 1.0

    def sound(start: float, end: float, note: int, level: int) -> Sound:
        return Sound(round(swung(start, ratio) * TICKS), round(swung(end, ratio) * TICKS), note, level)

    bass = [sound(float(n.start), float(n.end), n.pitch.midi, LEVEL) for n in chorus.bass if n.pitch]
    piano = [
        sound(float(v.start), float(v.start + v.length), p.midi, LEVEL - 16) for v in chorus.piano for p in v.pitches
    ]
    drums = [
        sound(float(at), float(at) + STROKE, DRUMS[stroke.what], round(stroke.level * 110))
        for at, stroke in chorus.drums
    ]
    return file_of(
        (
            conductor(bass_as_line(chorus, title), tempo, title),
            track("Bass", bass, BASS, BASS_PROGRAM),
            track("Piano", piano, PIANO, PIANO_PROGRAM),
            track("Drums", drums, DRUM_CHANNEL, 0),
        )
    )
