"""A drum kit: membranes and cymbals as modes that fit no scale, wires and brushes as noise.

Modes of a membrane lie at 1, 1.59, 2.14, 2.30, 2.65 times the lowest (Fletcher and Rossing 1998, table 3.1); a cymbal has
so many that they are drawn at random, by a seed.
"""

from __future__ import annotations

import numpy as np

from .modes import Row, Samples, band, noise, ringing

MEMBRANE = np.array([1.0, 1.59, 2.14, 2.30, 2.65])
LASTS = {"kick": 0.5, "stick": 0.15, "snare": 0.4, "brush": 0.5, "hat": 0.15, "foot": 0.18, "crash": 2.6, "ride": 1.8}


def struck(what: str, rng: np.random.Generator, *, rate: int) -> Samples:
    """One stroke at full strength, `what` one of LASTS; two strokes of one kind differ a little. The loudest sample is 1."""
    seconds = LASTS[what]
    wave = {
        "kick": _kick, "stick": _stick, "snare": _snare, "brush": _brush, "hat": _hat, "foot": _foot, "crash": _crash, "ride": _ride,
    }[what](seconds, rng, rate)  # fmt: skip
    fade = min(len(wave), int(0.02 * rate))
    wave[len(wave) - fade :] *= np.linspace(1, 0, fade, dtype=np.float32)
    return wave / np.float32(np.max(np.abs(wave)) + 1e-9)


def _kick(seconds: float, rng: np.random.Generator, rate: int) -> Samples:
    sizes = np.array([1, 0.35, 0.2, 0.12, 0.08]) * rng.uniform(0.9, 1.1, 5)
    wave = ringing(58 * MEMBRANE, sizes, np.array([0.42, 0.2, 0.12, 0.1, 0.08]), seconds=seconds, rate=rate, bend=0.6)
    return _with(wave, noise(0.05, rate, band(300, 2500), rng, 0.03), 0.12)


def _stick(seconds: float, rng: np.random.Generator, rate: int) -> Samples:
    modes = np.array([430, 1180, 1720, 2650, 3900]) * rng.uniform(0.99, 1.01, 5)
    wave = ringing(
        modes, np.array([0.5, 0.8, 1, 0.6, 0.3]), np.array([0.09, 0.07, 0.06, 0.04, 0.03]), seconds=seconds, rate=rate
    )
    return _with(wave, noise(0.03, rate, band(1500, 7000), rng, 0.02), 0.3)


def _snare(seconds: float, rng: np.random.Generator, rate: int) -> Samples:
    sizes = np.array([1, 0.6, 0.4, 0.3, 0.25]) * rng.uniform(0.85, 1.15, 5)
    wave = ringing(186 * MEMBRANE, sizes, np.array([0.2, 0.16, 0.12, 0.1, 0.08]), seconds=seconds, rate=rate, bend=0.05)
    return _with(wave, noise(seconds, rate, band(1400, 8500), rng, 0.28), 0.45)


def _brush(seconds: float, rng: np.random.Generator, rate: int) -> Samples:
    tap = ringing(178 * MEMBRANE, np.array([0.3, 0.15, 0.1, 0.05, 0.05]), np.full(5, 0.12), seconds=seconds, rate=rate)
    swish = noise(seconds, rate, band(1100, 6500, 1), rng, 0.55, rise=0.02)
    return _with(tap, swish, 0.3)


def _hat(seconds: float, rng: np.random.Generator, rate: int) -> Samples:
    return _with(
        _metal(rng, 40, 3200, 14_000, (0.04, 0.1), seconds, rate),
        noise(seconds, rate, band(6500, 15_000), rng, 0.09),
        0.35,
    )


def _foot(seconds: float, rng: np.random.Generator, rate: int) -> Samples:
    return _with(
        _metal(rng, 30, 2200, 9000, (0.05, 0.12), seconds, rate),
        noise(seconds, rate, band(3800, 11_000), rng, 0.11),
        0.4,
    )


def _crash(seconds: float, rng: np.random.Generator, rate: int) -> Samples:
    return _with(
        _metal(rng, 90, 420, 13_000, (0.8, 2.6), seconds, rate),
        noise(seconds, rate, band(2500, 12_000), rng, 1.5, rise=0.008),
        0.5,
    )


def _ride(seconds: float, rng: np.random.Generator, rate: int) -> Samples:
    """A clear stroke of the stick over a wash that stays behind it."""
    wave = _metal(rng, 70, 380, 12_000, (0.5, 2.2), seconds, rate)
    ping = ringing(np.array([3150.0, 4420, 5870, 7600]), np.array([1.0, 0.9, 0.6, 0.4]), np.array([0.35, 0.28, 0.2, 0.14]), seconds=seconds, rate=rate)  # fmt: skip
    wave = _with(wave, ping, 0.9)
    return _with(wave, noise(0.04, rate, band(5000, 14_000), rng, 0.02), 0.35)


def _metal(
    rng: np.random.Generator, count: int, low: float, high: float, t60: tuple[float, float], seconds: float, rate: int
) -> Samples:
    """Many modes between two frequencies, closer together above; the higher ones are shorter. Mean level 0.3."""
    share: Row = rng.uniform(0, 1, count)
    frequencies = low * (high / low) ** share**0.75
    sizes = rng.uniform(0.3, 1, count) * (frequencies / low) ** 0.15
    lasts = t60[1] + (t60[0] - t60[1]) * share
    wave = ringing(frequencies, sizes, lasts, seconds=seconds, rate=rate, phases=rng.uniform(0, 6.28, count))
    return wave * np.float32(0.3 / (np.sqrt(np.mean(wave[: int(0.1 * rate)] ** 2)) + 1e-9))


def _with(wave: Samples, other: Samples, share: float) -> Samples:
    """Two sounds together: the other's loudest sample at `share` of this one's."""
    scale = share * np.max(np.abs(wave)) / (np.max(np.abs(other)) + 1e-9)
    wave[: len(other)] += np.float32(scale) * other[: len(wave)]
    return wave
