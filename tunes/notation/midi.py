"""Tracks of a standard MIDI file (MIDI 1.0, Standard MIDI Files; MIDI Association): who plays says when, this says how."""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeAlias

import mido

from tunes.harmony.charts.bars import Metre

Track: TypeAlias = mido.MidiTrack
TICKS = 480  # of a crotchet


@dataclass(frozen=True, slots=True)
class Sound:
    """From tick to tick: a MIDI note at a velocity."""

    start: int
    end: int
    note: int
    velocity: int


def conductor(metres: Iterable[tuple[Fraction, Metre]], length: Fraction, tempo: int, title: str) -> Track:
    """The first track: title, tempo, changes of metre. `metres`: every bar's beginning and metre; times in crotchets."""
    track = _named(title.encode("ascii", "replace").decode())
    track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo), time=0))
    at, now = Fraction(0), None
    for start, metre in metres:
        if metre != now:
            now = metre
            track.append(
                mido.MetaMessage(
                    "time_signature", numerator=metre.beats, denominator=metre.unit, time=int((start - at) * TICKS)
                )
            )
            at = start
    track.append(mido.MetaMessage("end_of_track", time=int((length - at) * TICKS)))
    return track


def track(name: str, sounds: Iterable[Sound], channel: int, program: int | None = None) -> Track:
    """One player; at one tick what ends goes before what begins."""
    found = _named(name)
    if program is not None:
        found.append(mido.Message("program_change", channel=channel, program=program, time=0))
    events: list[tuple[int, int, int, int]] = []  # tick, 0 for off before 1 for on, note, velocity
    for sound in sounds:
        events += [(sound.start, 1, sound.note, sound.velocity), (sound.end, 0, sound.note, 0)]
    at = 0
    for tick, on, note, velocity in sorted(events):
        message = "note_on" if on else "note_off"
        found.append(mido.Message(message, channel=channel, note=note, velocity=velocity, time=tick - at))
        at = tick
    return found


def _named(name: str) -> Track:
    found = mido.MidiTrack()
    found.append(mido.MetaMessage("track_name", name=name, time=0))
    return found


def file_of(tracks: Iterable[Track]) -> bytes:
    """A file of type 1: tracks that sound together."""
    midi = mido.MidiFile(type=1, ticks_per_beat=TICKS)
    midi.tracks.extend(tracks)
    data = io.BytesIO()
    midi.save(file=data)
    return data.getvalue()
