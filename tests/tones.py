"""Tones made by arithmetic, and takes made of them: what the tests and the bench of hearing listen to.

Nothing here imitates an instrument well; it has what matters to a pitch tracker: harmonics that differ by kind, a soft or
hard attack, breath, vibrato, a room, a band beside it.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

RATE = 16_000
Samples = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Kind:
    """partials   strength of each harmonic.  attack  seconds.  breath  noise against the tone.
    vibrato    (cents, Hz); it begins after a quarter of a second.  low, high  sounding compass, MIDI.
    """

    partials: tuple[float, ...]
    attack: float
    breath: float
    vibrato: tuple[float, float]
    low: int
    high: int


KINDS = {
    "clarinet": Kind((1, 0.05, 0.55, 0.06, 0.35, 0.05, 0.2, 0.04, 0.1), 0.03, 0.01, (0, 5), 52, 84),
    "saxophone": Kind((0.7, 1, 0.8, 0.55, 0.4, 0.3, 0.22, 0.15, 0.1, 0.06), 0.02, 0.02, (18, 5), 49, 79),
    "trombone": Kind((0.6, 0.9, 1, 0.9, 0.7, 0.5, 0.4, 0.3, 0.2, 0.15, 0.1), 0.035, 0.008, (10, 4.5), 41, 70),
    "voice": Kind((1, 0.6, 0.35, 0.5, 0.3, 0.1, 0.06, 0.04), 0.06, 0.03, (45, 5.5), 55, 79),
    "flute": Kind((1, 0.4, 0.15, 0.05, 0.02), 0.05, 0.05, (25, 5), 62, 91),
}


@dataclass(frozen=True)
class Tone:
    """start, length in seconds; midi may have a fraction; slurred: no attack of its own after the one before."""

    start: float
    length: float
    midi: float
    level: float = 0.2
    slurred: bool = False


@dataclass(frozen=True)
class Planted:
    """A note of a take as it was wanted, and what was done to it: "", "another", "not-heard" or "late"."""

    start: float
    length: float
    midi: int
    done: str = ""
    sounds: int | None = None


def tone(kind: Kind, length: float, midi: float, rng: np.random.Generator) -> Samples:
    """One tone at full scale 1."""
    count = max(16, int(length * RATE))
    time = np.arange(count) / RATE
    depth, speed = kind.vibrato
    cents = depth * np.clip((time - 0.25) / 0.2, 0, 1) * np.sin(2 * np.pi * speed * time)
    hertz = 440 * 2 ** ((midi - 69 + cents / 100) / 12)
    phase = 2 * np.pi * np.cumsum(hertz) / RATE
    wave = sum(
        (
            size * np.sin(number * phase + 0.7 * number * number)
            for number, size in enumerate(kind.partials, 1)
            if number * hertz.max() < RATE / 2
        ),
        np.zeros(count),
    )
    wave = wave / np.sqrt(np.mean(wave**2) + 1e-12)
    wave = wave + kind.breath * rng.standard_normal(count)
    rise, fall = min(int(kind.attack * RATE), count // 2), min(int(0.03 * RATE), count // 2)
    shape = np.ones(count)
    shape[:rise] = np.sin(np.linspace(0, np.pi / 2, rise)) ** 2
    shape[count - fall :] *= np.cos(np.linspace(0, np.pi / 2, fall)) ** 2
    return np.asarray(wave * shape)


def take(
    tones: Sequence[Tone],
    made: Callable[[float, float], Samples],
    *,
    seconds: float | None = None,
    noise_db: float = -60,
    rng: np.random.Generator,
) -> Samples:
    """A take of tones made by `made(length, midi)`. A slurred tone of the same pitch prolongs the one before."""
    end = max(one.start + one.length for one in tones) + 0.6 if seconds is None else seconds
    sound = 10 ** (noise_db / 20) * rng.standard_normal(int(end * RATE))
    for one in joined(tones):
        first = int(one.start * RATE)
        wave = made(one.length, one.midi)[: len(sound) - first]
        sound[first : first + len(wave)] += one.level * wave
    return sound


def joined(tones: Sequence[Tone]) -> list[Tone]:
    """Slurred repeats as one long tone."""
    found: list[Tone] = []
    for one in tones:
        if found and one.slurred and found[-1].midi == one.midi:
            found[-1] = replace(found[-1], length=one.start + one.length - found[-1].start)
        else:
            found.append(one)
    return found


def room(sound: Samples, seconds: float, wet: float, rng: np.random.Generator) -> Samples:
    """With reverberation: noise that falls by 60 dB in so many seconds; `wet` is its energy against the direct sound."""
    count = int(seconds * RATE)
    tail = rng.standard_normal(count) * 10 ** (-3 * np.arange(count) / count)
    tail[: int(0.008 * RATE)] = 0
    tail *= np.sqrt(wet / np.sum(tail**2))
    size = 1 << (len(sound) + count - 1).bit_length()
    wide = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(tail, size), size)[: len(sound)]
    return np.asarray(sound + wide)


def level(sound: Samples) -> float:
    """dB of the mean power where anything sounds (within 30 dB of the loudest 50 ms)."""
    pieces = sound[: len(sound) // 800 * 800].reshape(-1, 800)
    power = np.mean(pieces**2, axis=1)
    return float(10 * np.log10(np.mean(power[power > power.max() / 1000])))


def beside(sound: Samples, other: Samples, db: float) -> tuple[Samples, float]:
    """A sound with another beside it at so many dB against it, and the other's level in dB below full scale."""
    other = np.resize(other, len(sound))
    other = other * 10 ** ((level(sound) + db - level(other)) / 20)
    return sound + other, level(other)


LENGTHS = (0.5, 0.5, 0.5, 1.0, 1.0, 2.0)


def melody(rng: random.Random, kind: Kind, count: int, repeats: float = 0.0) -> list[tuple[float, float, int]]:
    """An invented line: (start, length in crotchets, MIDI), steps and small leaps; quavers come in pairs."""
    at, midi, found = 0.0, (kind.low + kind.high) // 2, []
    while len(found) < count:
        length = rng.choice(LENGTHS)
        for _ in range(2 if length == 0.5 else 1):
            if not (found and rng.random() < repeats):
                moved = midi + rng.choice((-7, -5, -4, -3, -3, -2, -2, -1, -1, 1, 1, 2, 2, 3, 3, 4, 5, 7))
                midi = moved if kind.low <= moved <= kind.high else 2 * midi - moved
            found.append((at, length, midi))
            at += length
    return found[:count]


def plant(
    rng: random.Random,
    line: Sequence[tuple[float, float, int]],
    tempo: float,
    share: float,
    ways: Sequence[str] = ("another", "not-heard", "late"),
) -> list[Planted]:
    """A line with faults in it: none on the first two notes or next to another; late ones only on crotchets and longer."""
    found: list[Planted] = []
    for at, (start, length, midi) in enumerate(line):
        done = ""
        if at > 1 and not found[-1].done and rng.random() < share * len(ways) * 1.2:
            done = rng.choice([way for way in ways if way != "late" or length >= 1])
        sounds = midi + rng.choice((-4, -3, -2, -1, 1, 2, 3, 4)) if done == "another" else midi
        found.append(Planted(start * 60 / tempo, length * 60 / tempo, midi, done, sounds))
    return found


def played(
    rng: random.Random, notes: Sequence[Planted], *, begins: float = 2.0, legato: float = 0.9, slur: bool = False
) -> list[Tone]:
    """Tones of a take: timing uneven by 12 ms (standard deviation), late ones 140 to 180 ms late."""
    found: list[Tone] = []
    for at, note in enumerate(notes):
        if note.done == "not-heard":
            continue
        late = rng.uniform(0.14, 0.18) if note.done == "late" else rng.gauss(0, 0.012)
        repeat = slur and at > 0 and notes[at - 1].midi == note.midi and not note.done and not notes[at - 1].done
        part = 1.0 if slur and at + 1 < len(notes) and notes[at + 1].midi == note.midi else legato
        start = begins + note.start + late
        length = max(0.06, note.length * part - max(late, 0) * (note.done == "late"))
        found.append(Tone(start, length, float(note.sounds or note.midi), 0.2 * rng.uniform(0.75, 1.25), repeat))
    return found
