"""Where the bench of hearing has its sounds from: tones by arithmetic, single tones of real instruments, a sound font; and a
band to play beside them. The last three need files that are no part of the project."""

from __future__ import annotations

import argparse
import json
import random
import subprocess
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np

from drills.band.chorus import play_chorus
from drills.band.feel import swung
from drills.band.styles import STYLES
from drills.lines.passage import passage
from tests import tones as t
from tests.drills.lines import plain_scales
from tests.drills.studies import study

TEMPO, COUNT = 120.0, 64
Made = Callable[[float, float], t.Samples]


def band(seconds: float, rng: np.random.Generator) -> t.Samples:
    """A chorus of the band: bass and piano as decaying tones, drums as noise."""
    chorus = play_chorus(passage(study().chart, None), STYLES["four"], plain_scales(None), "bench")
    beat = 60 / TEMPO
    sound = np.zeros(int(seconds * t.RATE))

    def lay(start: float, wave: t.Samples) -> None:
        first = int(swung(start, 2.0) * beat * t.RATE)
        wave = wave[: max(0, len(sound) - first)]
        sound[first : first + len(wave)] += wave

    def plucked(midi: float, length: float, size: float) -> t.Samples:
        at = np.arange(int(length * t.RATE)) / t.RATE
        hertz = 440 * 2 ** ((midi - 69) / 12)
        return sum(
            (size / n * np.exp(-3 * at) * np.sin(2 * np.pi * n * hertz * at) for n in (1, 2, 3, 4)), np.zeros(len(at))
        )

    for note in chorus.bass:
        if note.pitch:
            lay(float(note.start), plucked(note.pitch.midi, float(note.duration) * beat, 0.5))
    for voiced in chorus.piano:
        for pitch in voiced.pitches:
            lay(float(voiced.start), plucked(pitch.midi, float(voiced.length) * beat, 0.2))
    for start, stroke in chorus.drums:
        wave = stroke.level * np.exp(-np.arange(3200) / 600) * rng.standard_normal(3200)
        lay(float(start), 0.3 * np.diff(wave, prepend=0))
    return sound


def by_arithmetic(name: str) -> Made:
    rng = np.random.default_rng(7)
    kind = t.KINDS[name]
    return lambda length, midi: t.tone(kind, length, midi, rng)


def by_recordings(folder: Path, name: str) -> tuple[Made, list[int]]:
    """Single tones, tuned to equal temperament by a small change of speed and cut to length."""
    from tunes.samples import blocks_of

    rows = [row for row in json.loads((folder / "tones.json").read_text()) if row["instrument"] == name]
    waves: dict[int, list[t.Samples]] = {}
    for row in rows:
        if row["seconds"] < 0.4:
            continue
        with (folder / row["file"]).open("rb") as file:
            wave = np.concatenate(list(blocks_of(file, "audio/mpeg"))).astype(float)
        loud = np.flatnonzero(np.abs(wave) > 0.05 * np.abs(wave).max())
        wave = wave[max(0, loud[0] - 160) : loud[-1]]
        place = np.arange(0, len(wave) - 1, 2 ** (-row["cents"] / 1200))
        wave = np.interp(place, np.arange(len(wave)), wave)
        waves.setdefault(row["midi"], []).append(wave / np.sqrt(np.mean(wave**2) + 1e-12))
    rng = random.Random(3)

    def made(length: float, midi: float) -> t.Samples:
        wave = sustained(rng.choice(waves[round(midi)]), int(length * t.RATE))
        fall = min(480, len(wave))
        wave[len(wave) - fall :] *= np.linspace(1, 0, fall)
        return wave

    return made, sorted(waves)


def sustained(wave: t.Samples, count: int) -> t.Samples:
    """A tone cut to length, or held on: its middle third again and again, faded over into itself."""
    if len(wave) < count:  # what dies away at its end is no part of a held tone
        power = np.convolve(wave**2, np.ones(640) / 640, mode="same")
        wave = wave[: int(np.flatnonzero(power > 0.15 * power.max())[-1])]
    third, fade = len(wave) // 3, len(wave) // 9
    middle = wave[third : 2 * third]
    while len(wave) < count:
        ramp = np.linspace(0, 1, fade)
        keep, rest = wave[:-third], wave[-third:]
        seam = keep[-fade:] * np.sqrt(1 - ramp) + middle[:fade] * np.sqrt(ramp)
        wave = np.concatenate([keep[:-fade], seam, middle[fade:], rest])
    return wave[:count].copy()


PROGRAMS = {"clarinet": 71, "saxophone": 66, "trombone": 57, "voice": 53, "flute": 73, "trumpet": 56}


def by_font(font: str, name: str, tones: Iterable[t.Tone]) -> t.Samples:
    """A take rendered by fluidsynth."""
    import mido

    from tunes.samples import blocks_of

    midi = mido.MidiFile(ticks_per_beat=1000)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=1_000_000),
                            mido.Message("program_change", program=PROGRAMS[name])])  # fmt: skip
    midi.tracks.append(track)
    events = []
    for one in t.joined(list(tones)):
        events += [
            (round(1000 * one.start), 1, round(one.midi)),
            (round(1000 * (one.start + one.length)), 0, round(one.midi)),
        ]
    now = 0
    for at, on, note in sorted(events):
        track.append(mido.Message("note_on" if on else "note_off", note=note, velocity=90 if on else 0, time=at - now))
        now = at
    with tempfile.TemporaryDirectory() as folder:
        midi.save(f"{folder}/take.mid")
        subprocess.run(
            ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.7", "-F", f"{folder}/take.wav", "-r", "44100",
             font, f"{folder}/take.mid"],
            check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        with open(f"{folder}/take.wav", "rb") as file:
            return np.concatenate(list(blocks_of(file, "audio/wav"))).astype(float)


Render = Callable[[list[t.Tone]], t.Samples]


def renderers(args: argparse.Namespace) -> dict[str, tuple[Render, t.Kind | list[int]]]:
    """Every source of sound: name → (tones to samples, compass or the pitches there are)."""
    found: dict[str, tuple[Render, t.Kind | list[int]]] = {}
    for name in ("clarinet", "saxophone", "trombone", "voice"):
        found[f"{name}, arithmetic"] = (with_noise(by_arithmetic(name)), t.KINDS[name])
    if args.tones:
        for name in ("clarinet", "saxophone", "trombone"):
            made, pitches = by_recordings(Path(args.tones), name)
            found[f"{name}, single tones"] = (with_noise(made), pitches)
    if args.font:
        for name in ("clarinet", "saxophone", "trombone", "voice"):
            found[f"{name}, sound font"] = ((lambda tones, name=name: by_font(args.font, name, tones)), t.KINDS[name])
    return found


def with_noise(made: Made) -> Render:
    rng = np.random.default_rng(1)
    return lambda tones: t.take(tones, made, rng=rng)


def line_in(rng: random.Random, where: t.Kind | list[int], repeats: float) -> list[t.Planted]:
    """A line with faults, on pitches that the source has."""
    if isinstance(where, t.Kind):
        return t.plant(rng, t.melody(rng, where, COUNT, repeats), TEMPO, 0.05)
    wide = t.Kind((), 0, 0, (0, 0), where[0], where[-1])

    def nearest(midi: int, but: int | None = None) -> int:
        return min((pitch for pitch in where if pitch != but), key=lambda pitch: abs(pitch - midi))

    line = [(start, length, nearest(midi)) for start, length, midi in t.melody(rng, wide, COUNT, repeats)]
    notes = t.plant(rng, line, TEMPO, 0.05)
    return [
        t.Planted(n.start, n.length, n.midi, n.done, nearest(n.sounds or n.midi, n.midi)) if n.done == "another" else n
        for n in notes
    ]
