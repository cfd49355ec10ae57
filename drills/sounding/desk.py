"""The desk: parts laid into a stereo sound at their places, a light room, one loudness for all recordings, no clipping."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from .modes import Row, Samples, band

Stereo = npt.NDArray[np.float32]  # shape (2, samples)
ROOM_SECONDS = 0.7
LOUDNESS = -18.0  # LUFS of a recording
CEILING = 10 ** (-1.5 / 20)  # of the loudest sample
_BLOCK, _STEP = 0.4, 0.1  # seconds (ITU-R BS.1770-4)
_OFFSET = -0.691


class Desk:
    """A mix of so many seconds. `place` lays a mono sound, or a pair, at a second, level, panorama (-1 left to 1) and share of
    the room."""

    def __init__(self, seconds: float, rate: int) -> None:
        self.rate = rate
        self.dry = np.zeros((2, int(seconds * rate)), np.float32)
        self.send = np.zeros((2, int(seconds * rate)), np.float32)

    def place(
        self, wave: Samples | tuple[Samples, Samples], at: float, level: float, *, pan: float = 0.0, room: float = 0.1
    ) -> None:
        first = max(0, round(at * self.rate))
        sides = wave if isinstance(wave, tuple) else (wave, wave)
        angle = (pan + 1) * math.pi / 4
        for side, gain in enumerate((math.cos(angle), math.sin(angle))):
            piece = sides[side][: self.dry.shape[1] - first] * np.float32(level * gain * math.sqrt(2))
            self.dry[side, first : first + len(piece)] += piece
            self.send[side, first : first + len(piece)] += piece * np.float32(room)

    def mixed(self, seed: int = 1) -> Stereo:
        """Dry and room together, at the loudness of all recordings, below the ceiling."""
        wet = in_room(self.send, self.rate, seed)
        mix = high_passed(self.dry + wet, self.rate)
        for _ in range(2):  # limiting takes a little loudness away
            mix = limited(mix * np.float32(10 ** ((LOUDNESS - loudness(mix, self.rate)) / 20)), self.rate)
        return mix


def in_room(sound: Stereo, rate: int, seed: int) -> Stereo:
    """Only the room's part: noise that falls by 60 dB in ROOM_SECONDS, darker later, other on each side, after a few early
    reflections."""
    rng = np.random.default_rng(seed)
    count = int(ROOM_SECONDS * rate)
    out = np.empty_like(sound)
    size = 1 << (sound.shape[1] + count - 1).bit_length()
    for side in range(2):
        time = np.arange(count) / rate
        tail = rng.standard_normal(count) * np.exp(-6.9078 * time / ROOM_SECONDS)
        dark = np.fft.irfft(np.fft.rfft(tail) * band(180, 2600, 1)(np.fft.rfftfreq(count, 1 / rate)), count)
        mixed = tail * np.exp(-time / 0.08) + dark * 1.6
        mixed[: int(0.009 * rate)] = 0
        for at, level in zip(rng.uniform(0.011, 0.045, 6), (7, 6, 5, 4, 3, 3), strict=True):
            mixed[int(at * rate)] += level * rng.choice((-1, 1))
        mixed /= np.sqrt(np.sum(mixed**2))
        wet = np.fft.irfft(np.fft.rfft(sound[side], size) * np.fft.rfft(mixed, size), size)
        out[side] = wet[: sound.shape[1]]
    return out


def high_passed(sound: Stereo, rate: int, low: float = 28.0) -> Stereo:
    """Without what no loudspeaker gives, phases kept."""
    count = sound.shape[1]
    f = np.fft.rfftfreq(count, 1 / rate)
    gain = 1 / np.sqrt(1 + (low / np.maximum(f, 0.1)) ** 8)
    return np.asarray(np.fft.irfft(np.fft.rfft(sound, axis=1) * gain, count, axis=1), np.float32)


def loudness(sound: Stereo, rate: int) -> float:
    """Integrated loudness in LUFS by ITU-R BS.1770-4: K-weighting (its analogue curve, as gain by frequency), blocks of 0.4 s
    every 0.1 s, gates at -70 LUFS and 10 LU below the mean. A sine of 997 Hz at full scale on one side: -3.01."""
    count = sound.shape[1]
    weighted = np.fft.irfft(np.fft.rfft(sound, axis=1) * _k_gain(np.fft.rfftfreq(count, 1 / rate)), count, axis=1)
    power = np.concatenate([[0.0], np.cumsum(np.sum(weighted.astype(np.float64) ** 2, axis=0))])
    block, step = int(_BLOCK * rate), int(_STEP * rate)
    starts = np.arange(0, max(1, count - block + 1), step)
    means = (power[np.minimum(starts + block, count)] - power[starts]) / block
    heard = means[means > _power(-70)]
    if not len(heard):
        return -math.inf
    heard = heard[heard > np.mean(heard) * 0.1]
    return float(_OFFSET + 10 * math.log10(float(np.mean(heard))))


def _power(lufs: float) -> float:
    return float(10 ** ((lufs - _OFFSET) / 10))


def _k_gain(f: Row) -> Row:
    """Magnitude of both filters of BS.1770-4 (its coefficients at 48 kHz, tables 1 and 2), by frequency in Hz."""
    z = np.exp(-2j * np.pi * np.minimum(f, 23_990) / 48_000)
    shelf = (1.53512485958697 - 2.69169618940638 * z + 1.19839281085285 * z**2) / (
        1 - 1.69065929318241 * z + 0.73248077421585 * z**2
    )
    high = (1 - 2 * z + z**2) / (1 - 1.99004745483398 * z + 0.99007225036621 * z**2)
    return np.asarray(np.abs(shelf * high))


def limited(sound: Stereo, rate: int) -> Stereo:
    """No sample above the ceiling: the gain goes down some milliseconds before a peak and comes up again after it. The gain is
    smoothed over four milliseconds each side, of the least that any of eight each side needs, so no peak slips through."""
    step = max(1, rate // 1000)
    count = -(-sound.shape[1] // step)
    loud = np.zeros(count * step, np.float32)
    loud[: sound.shape[1]] = np.max(np.abs(sound), axis=0)
    needed = np.minimum(1.0, CEILING / (loud.reshape(count, step).max(axis=1) + 1e-9))
    least = np.lib.stride_tricks.sliding_window_view(np.pad(needed, 8, mode="edge"), 17).min(axis=1)
    window = np.hanning(11)[1:-1]
    soft = np.convolve(np.pad(least, 4, mode="edge"), window / window.sum(), "valid")
    gain = np.interp(np.arange(sound.shape[1]), (np.arange(count) + 0.5) * step, soft)
    return np.asarray(sound * gain, np.float32)
