"""Winds and a voice: partials that grow brighter with loudness, under fixed formants, with breath and a vibrato that comes late."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .modes import Row, Samples, band, hertz, levelled, noise


@dataclass(frozen=True)
class Wind:
    """formants  resonances: (Hz, width, gain).  falls   how fast partials fall, as a power.
    bright    how much of the upper partials depends on loudness.  attack  seconds.
    breath    level of noise.  vibrato   (cents, Hz).  even   strength of even partials.
    """

    formants: tuple[tuple[float, float, float], ...]
    falls: float
    bright: float
    attack: float
    breath: float
    vibrato: tuple[float, float]
    even: float = 1.0


WINDS = {
    "trumpet": Wind(((1200, 700, 2.4), (2300, 900, 1.2)), 1.05, 0.55, 0.028, 0.010, (14, 5.4)),
    "flugelhorn": Wind(((800, 500, 1.8),), 1.5, 0.5, 0.035, 0.014, (10, 5.1)),
    "trombone": Wind(((520, 300, 2.0), (1500, 700, 0.8)), 1.2, 0.55, 0.035, 0.010, (9, 5.0)),
    "tuba": Wind(((230, 160, 1.6), (420, 200, 0.8)), 1.35, 0.5, 0.035, 0.012, (0, 5.0)),
    "tenor-sax": Wind(((550, 300, 1.5), (1150, 500, 1.0), (2700, 900, 0.4)), 1.0, 0.45, 0.024, 0.028, (16, 4.9)),
    "alto-sax": Wind(((900, 400, 1.4), (1500, 600, 0.9), (3100, 900, 0.4)), 1.05, 0.45, 0.022, 0.022, (18, 5.2)),
    "soprano-sax": Wind(((1200, 500, 1.4), (2900, 1000, 0.5)), 1.1, 0.4, 0.022, 0.018, (15, 5.3)),
    "clarinet": Wind(((1500, 700, 0.9),), 0.9, 0.35, 0.03, 0.012, (0, 5.0), 0.1),
    "voice": Wind(((650, 150, 3.0), (1100, 200, 1.8), (2700, 400, 0.8)), 1.3, 0.3, 0.06, 0.012, (28, 5.5)),
}


def blown(
    kind: Wind, midi: float, seconds: float, force: float, rng: np.random.Generator, *, rate: int, tail: float = 0.07
) -> Samples:
    """One note of `seconds` and a short release. `force` 0 to 1. It is reached from 20 cents below in some 30 ms."""
    count = int((seconds + tail) * rate)
    time = np.arange(count) / rate
    depth, speed = kind.vibrato
    late = np.clip((time - 0.22) / 0.35, 0, 1)
    cents = depth * late * np.sin(2 * np.pi * speed * time + rng.uniform(-0.5, 0.5)) - 20 * np.exp(-time / 0.028)
    frequency = hertz(midi) * 2 ** (cents / 1200)
    phase = 2 * np.pi * np.cumsum(frequency) / rate
    shape = _shape(time, seconds, kind.attack, tail)
    strength = (0.35 + 0.65 * force) * shape
    wave = np.zeros(count, np.float32)
    for number in range(1, int(min(30, 0.42 * rate / hertz(midi))) + 1):
        size = number**-kind.falls * float(_formed(kind, np.array([number * hertz(midi)]))[0])
        size *= kind.even if number % 2 == 0 else 1.0
        wave += (size * strength ** (1 + kind.bright * (number - 1) ** 0.7) * np.sin(number * phase)).astype(np.float32)
    wave = levelled(wave, rate, min(0.3, seconds))
    air = noise((count + 1) / rate, rate, band(700, 5200), rng, 1e6)
    return np.asarray(wave + kind.breath * air[:count] * shape * 0.3, np.float32)


def _formed(kind: Wind, frequencies: Row) -> Row:
    gain = np.full(len(frequencies), 0.35)
    for centre, width, height in kind.formants:
        gain += height / (1 + ((frequencies - centre) / width) ** 2)
    return gain


def _shape(time: Row, seconds: float, attack: float, tail: float) -> Row:
    """Loudness: a quick rise, a little less after the attack, swelling in long notes, a short end."""
    rise = np.sin(np.clip(time / attack, 0, 1) * np.pi / 2) ** 2
    held = 0.82 + 0.18 * np.exp(-time / 0.09) + 0.10 * np.clip((time - 0.3) / 0.8, 0, 1)
    fall = np.cos(np.clip((time - seconds + 0.01) / tail, 0, 1) * np.pi / 2) ** 2
    return np.asarray(rise * held * fall)
