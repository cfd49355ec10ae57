"""The demo's rendered recordings, looked at as sound: level, peak, spectrum, where bar lines fall, what the bass plays.

python -m tests.bench.recordings [NAME …]

The bass is read from the spectrum below 260 Hz just after each chord begins and held against the chart of the version: independent of
the notes that were rendered. Bar lines: the steepest rise of energy near every mark. Prints; asserts nothing.
"""

from __future__ import annotations

import os
import sys
from itertools import pairwise

import av
import numpy as np
import numpy.typing as npt

RATE = 48_000
EDGES = (30, 80, 160, 320, 640, 1280, 2560, 5120, 10_240, 20_000)


def decoded(path: object) -> npt.NDArray[np.float32]:
    """Both sides, 48 kHz."""
    parts = []
    with av.open(str(path)) as container:
        resampler = av.AudioResampler(format="fltp", layout="stereo", rate=RATE)
        for frame in container.decode(audio=0):
            parts += [piece.to_ndarray() for piece in resampler.resample(frame)]
    return np.concatenate(parts, axis=1)


def bass_heard(sound: npt.NDArray[np.float32], at: float, lasts: float) -> int:
    """Pitch class of the bass in a stretch: the fundamental from E1 up to E3 whose partials below 260 Hz hold most."""
    piece = sound.mean(axis=0)[int((at + 0.02) * RATE) : int((at + max(0.12, min(lasts, 0.4))) * RATE)]
    size = 1 << 17
    spectrum = np.abs(np.fft.rfft(piece * np.hanning(len(piece)), size))
    found = []
    for midi in range(28, 53):
        f0 = 440 * 2 ** ((midi - 69) / 12)
        partials = [n * f0 for n in range(1, 6) if n * f0 < 260]
        bins = [slice(int(f * 0.985 * size / RATE), int(f * 1.015 * size / RATE) + 2) for f in partials]
        found.append((sum(float(spectrum[b].max()) / n**0.5 for n, b in enumerate(bins, 1)), midi % 12))
    return max(found)[1]


def rise_near(sound: npt.NDArray[np.float32], at: float, wide: float = 0.03) -> float:
    """Milliseconds from a moment to the steepest rise of energy near it."""
    mono = sound.mean(axis=0)
    first = int((at - wide) * RATE)
    piece = mono[max(0, first) : first + int(2 * wide * RATE)]
    hop = RATE // 1000
    power = np.sqrt(np.mean(piece[: len(piece) // hop * hop].reshape(-1, hop) ** 2, axis=1) + 1e-12)
    soft = np.convolve(power, np.ones(4) / 4, "same")
    return float(np.argmax(soft[4:] - soft[:-4]) + 2 - wide * 1000)


def bands(sound: npt.NDArray[np.float32]) -> list[int]:
    """dB of each octave against the whole."""
    f = np.fft.rfftfreq(sound.shape[1], 1 / RATE)
    power = (np.abs(np.fft.rfft(sound, axis=1)) ** 2).sum(axis=0)
    whole = power.sum()
    return [round(10 * np.log10(power[(f >= low) & (f < high)].sum() / whole + 1e-9)) for low, high in pairwise(EDGES)]


def main(names: list[str]) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    import django

    django.setup()
    from drills.demo_recordings import chords_of, planned
    from drills.sounding.desk import loudness
    from tunes.demo.recorded import recorded

    print(
        "name, seconds, LUFS, peak dB, octaves from 30 Hz up (dB), rise at bar lines (ms: median, 95 %), bass as charted"
    )
    for plan in planned():
        if names and plan.name not in names:
            continue
        row = recorded()[plan.tune.title, plan.place]
        sound = decoded(row.path)
        off = [rise_near(sound, mark.seconds) for mark in row.marks if mark.label]
        wanted = chords_of(plan)
        crotchet = 60 / plan.recording.tempo  # longer, and the next note of a walking bass is heard instead
        right = sum(bass_heard(sound, at, min(lasts, crotchet)) == pc for at, lasts, pc in wanted)
        print(
            f"{plan.name:26} {sound.shape[1] / RATE:6.1f} {loudness(sound, RATE):6.1f} {20 * np.log10(np.abs(sound).max()):6.1f} {bands(sound)} "
            f"{np.median(off):+.0f} {np.percentile(np.abs(off), 95):.0f}  {right}/{len(wanted)}",
            flush=True,
        )


if __name__ == "__main__":
    main(sys.argv[1:])
