"""Plucked and hammered strings: double bass, guitar, piano, electric piano, vibraphone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .modes import Row, Samples, band, hertz, levelled, noise, ringing


@dataclass(frozen=True)
class Plucked:
    """stiff    how far partials are stretched, of the lowest string.  pluck   where, as a share of the string.
    soft     Hz from which the finger takes the highs away.  rings    seconds of the lowest note.
    body     resonances of the box: (Hz, width, gain).  finger   level of its noise.
    """

    stiff: float
    pluck: float
    soft: float
    rings: float
    body: tuple[tuple[float, float, float], ...]
    finger: float
    low: float = 40.0


DOUBLE_BASS = Plucked(
    8e-5, 0.23, 850, 3.4, ((62, 14, 1.0), (104, 22, 1.6), (165, 35, 1.0), (235, 50, 0.8), (410, 120, 0.6)), 0.05
)
GUITAR = Plucked(
    3e-5, 0.19, 1900, 2.8, ((105, 15, 1.0), (210, 30, 1.2), (400, 80, 0.6), (2300, 900, 0.25)), 0.035, 82.0
)


def plucked(kind: Plucked, midi: float, rng: np.random.Generator, *, rate: int, seconds: float = 2.6) -> Samples:
    """One note, let ring. Two planes of the string beat against each other slowly; the pitch settles from a little above."""
    f0 = hertz(midi)
    number = np.arange(1, int(min(36, 6000 / f0)) + 1, dtype=np.float64)
    frequencies = f0 * number * np.sqrt(1 + kind.stiff * number**2)
    size = np.abs(np.sin(np.pi * number * kind.pluck)) + 0.04
    size *= number**-1.05 / (1 + (frequencies / kind.soft) ** 2) * _body(kind, frequencies)
    t60 = kind.rings * (kind.low / f0) ** 0.35 / (1 + frequencies / 900)
    first = ringing(frequencies, size, t60, seconds=seconds, rate=rate, bend=0.004)
    second = ringing(frequencies * 1.0007, 0.35 * size, 1.7 * t60, seconds=seconds, rate=rate, bend=0.004)
    wave = levelled(first + second, rate)
    touch = noise(min(0.12, seconds), rate, band(250, 2200), rng, 0.05)
    wave[: len(touch)] += np.float32(kind.finger) * touch
    return wave


def _body(kind: Plucked, frequencies: Row) -> Row:
    gain = np.full(len(frequencies), 0.5)
    for centre, width, height in kind.body:
        gain += height / (1 + ((frequencies - centre) / width) ** 2)
    return gain


def piano(
    midi: float, force: float, rng: np.random.Generator, *, rate: int, seconds: float = 3.0
) -> tuple[Samples, Samples]:
    """Left and right of one note. Three strings a few tenths of a cent apart give the double decay of a piano; a harder hammer
    (`force` 0 to 1) is brighter."""
    f0 = hertz(midi)
    number = np.arange(1, int(min(40, 11_000 / f0)) + 1, dtype=np.float64)
    frequencies = f0 * number * np.sqrt(1 + 1.5e-4 * 2 ** ((midi - 48) / 9) * number**2)
    size = (np.abs(np.sin(np.pi * number / 8)) + 0.06) * number**-0.55 * np.exp(-frequencies / (500 + 1500 * force))
    t60 = 11 * 2 ** (-(midi - 48) / 15) / (1 + 0.12 * number + (frequencies / 2600) ** 1.3)
    low = 1 / np.sqrt(1 + (70 / frequencies) ** 4)  # a soundboard gives little of the deepest
    sides = []
    for _ in range(2):
        wave = np.zeros(int(seconds * rate), np.float32)
        for cents, share, lasts in ((0.0, 1.0, 0.45), (0.5, 0.5, 1.0), (-0.6, 0.4, 1.25)):
            phases = rng.uniform(-0.7, 0.7, len(number))
            wave += ringing(frequencies * 2 ** (cents / 1200), share * size * low, lasts * t60, seconds=seconds, rate=rate, phases=phases)  # fmt: skip
        sides.append(wave)
    knock = noise(min(0.15, seconds), rate, band(70, 900), rng, 0.07)
    rise = np.minimum(1, np.arange(len(sides[0]), dtype=np.float32) / (0.0015 * rate))
    left, right = (levelled(side, rate, 0.25) * rise for side in sides)
    for side in (left, right):
        side[: len(knock)] += np.float32(0.018) * knock
    return left, right


def electric_piano(midi: float, force: float, *, rate: int, seconds: float = 3.0) -> Samples:
    """A struck tine before a pickup: a bell that is gone at once over a tone that bends with its loudness."""
    f0 = hertz(midi)
    time = np.arange(int(seconds * rate), dtype=np.float32) / np.float32(rate)
    t60 = 4.5 * 2 ** (-(midi - 60) / 18)
    swing = (
        np.float32(0.35 + 0.5 * force)
        * np.exp(-6.9078 * time / np.float32(t60))
        * np.sin(np.float32(2 * np.pi * f0) * time)
    )
    tone = swing / (1 - 0.55 * swing)  # nearer to the pickup on one side
    bell = ringing(
        np.array([6.27 * f0, 11.3 * f0]), np.array([0.16, 0.05]), np.array([0.5, 0.25]), seconds=seconds, rate=rate
    )
    return levelled(np.asarray(tone - np.mean(tone) + bell * np.float32(force), np.float32), rate, 0.25)


def vibraphone(midi: float, seconds: float, rng: np.random.Generator, *, rate: int) -> Samples:
    """A bar tuned 1 to 4 to 10, its resonator opened and closed 5.3 times a second."""
    f0 = hertz(midi)
    wave = ringing(np.array([f0, 3.98 * f0, 9.9 * f0]), np.array([1.0, 0.2, 0.06]), np.array([4.5, 1.2, 0.3]) * (440 / f0) ** 0.4, seconds=seconds, rate=rate)  # fmt: skip
    time = np.arange(len(wave), dtype=np.float32) / rate
    wave *= 1 + 0.18 * np.sin(2 * np.pi * 5.3 * time + rng.uniform(0, 6)).astype(np.float32)
    touch = noise(min(0.03, seconds), rate, band(800, 5000), rng, 0.02)
    wave = levelled(wave, rate, 0.25)
    wave[: len(touch)] += np.float32(0.02) * touch
    return wave
