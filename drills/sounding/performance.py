"""A performance of the band, rendered: choruses as `drills.band` plays them, a melody or solo on top, an ending.

Bass and drums stand exactly where the score has them, so that a form map read from the score is right; the piano is a few
milliseconds early or late, by seed, and no two strokes of a kind are alike.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from .desk import Desk, Stereo
from .drums import LASTS, struck
from .modes import Samples, cut
from .strings import DOUBLE_BASS, GUITAR, electric_piano, piano, plucked, vibraphone
from .winds import WINDS, blown

VARIANTS = 3
# Levels and places of the drums: (level, panorama from where the audience sits, share of the room).
KIT = {
    "kick": (0.60, 0.0, 0.05), "stick": (0.34, -0.15, 0.2), "snare": (0.50, -0.1, 0.2), "brush": (0.80, -0.1, 0.2),
    "hat": (0.24, -0.35, 0.15), "foot": (0.24, -0.35, 0.15), "crash": (0.45, 0.4, 0.25), "ride": (0.32, 0.35, 0.2),
}  # fmt: skip


@dataclass(frozen=True)
class Lineup:
    """solo: a wind, "vibraphone" or "piano".  chords: "piano", "electric" or "guitar".  bass: "bass", "tuba", "piano" or
    "guitar".  drums: whether there are any."""

    solo: str = "tenor-sax"
    chords: str = "piano"
    bass: str = "bass"
    drums: bool = True


@dataclass(frozen=True)
class Played:
    """One note or chord in seconds: `pitches` sounding MIDI, `force` 0 to 1."""

    at: float
    lasts: float
    pitches: tuple[int, ...]
    force: float = 0.7


@dataclass(frozen=True)
class Score:
    """All of a performance, in seconds from the beginning of the file; strokes are (second, what, level)."""

    seconds: float
    bass: Sequence[Played]
    chords: Sequence[Played]
    solo: Sequence[Played]
    strokes: Sequence[tuple[float, str, float]]


class Band:
    """Renders scores; a note that was made once is kept for the next time."""

    def __init__(self, rate: int, seed: int = 1) -> None:
        self.rate = rate
        self.rng = np.random.default_rng(seed)
        self.kept: dict[tuple[object, ...], Samples | tuple[Samples, Samples]] = {}

    def render(self, score: Score, lineup: Lineup) -> Stereo:
        desk = Desk(score.seconds, self.rate)
        for note in score.bass:
            self._bass(desk, note, lineup.bass)
        for note in score.chords:
            self._chord(desk, note, lineup.chords, solo=False)
        for note in score.solo:
            self._solo(desk, note, lineup.solo)
        for at, what, level in score.strokes if lineup.drums else ():
            size, pan, room = KIT[what]
            variant = int(self.rng.integers(VARIANTS))
            wave = self._once(("drum", what, variant), partial(struck, what, self.rng, rate=self.rate))
            desk.place(wave, at, size * level**1.3 * self.rng.uniform(0.88, 1.0), pan=pan, room=room)
        return desk.mixed()

    def _once(
        self, key: tuple[object, ...], make: Callable[[], Samples | tuple[Samples, Samples]]
    ) -> Samples | tuple[Samples, Samples]:
        if key not in self.kept:
            self.kept[key] = make()
        return self.kept[key]

    def _bass(self, desk: Desk, note: Played, kind: str) -> None:
        midi = note.pitches[0]
        if kind == "tuba":
            wave = blown(WINDS["tuba"], midi, note.lasts * 0.85, note.force, self.rng, rate=self.rate)
            desk.place(wave, note.at, 0.5 * note.force, room=0.15)
        elif kind == "piano":
            self._chord(desk, Played(note.at, note.lasts, (midi,), note.force), "piano", solo=True)
        else:
            midi = midi if kind == "bass" or midi >= 40 else midi + 12  # the lowest string of a guitar is E2
            model = DOUBLE_BASS if kind == "bass" else GUITAR
            string = self._once((kind, midi), partial(plucked, model, midi, self.rng, rate=self.rate))
            assert not isinstance(string, tuple)
            desk.place(cut(string, note.lasts * 0.96, 0.09, self.rate), note.at, 0.60 * note.force, room=0.05)

    def _chord(self, desk: Desk, note: Played, kind: str, *, solo: bool) -> None:
        level = (0.62 if solo else 0.34) * note.force
        force = 0.45 if note.force < 0.6 else 0.7
        for place, midi in enumerate(note.pitches):
            late = 0.0 if solo else abs(float(self.rng.normal(0, 0.003))) + 0.0015 * place
            if kind == "guitar":
                wave = self._once(("guitar", midi), partial(plucked, GUITAR, midi, self.rng, rate=self.rate))
                late += 0.006 * place
            elif kind == "electric":
                wave = self._once(("electric", midi, force), partial(electric_piano, midi, force, rate=self.rate))
            else:
                wave = self._once(("piano", midi, force), partial(piano, midi, force, self.rng, rate=self.rate))
            sides = wave if isinstance(wave, tuple) else (wave, wave)
            ended = tuple(cut(side, note.lasts * 0.97, 0.12, self.rate) for side in sides)
            pan = 0.0 if solo else -0.3 + (midi - 60) * 0.008
            desk.place((ended[0], ended[1]), note.at + late, level, pan=pan, room=0.18)

    def _solo(self, desk: Desk, note: Played, kind: str) -> None:
        midi = note.pitches[0]
        if kind == "piano":
            self._chord(desk, note, "piano", solo=True)
        elif kind == "vibraphone":
            wave = vibraphone(midi, min(3.0, note.lasts + 0.6), self.rng, rate=self.rate)
            desk.place(cut(wave, note.lasts, 0.5, self.rate), note.at, 0.5 * note.force, pan=0.15, room=0.22)
        else:
            wave = blown(WINDS[kind], midi, note.lasts, note.force, self.rng, rate=self.rate)
            desk.place(wave, note.at, 0.62 * note.force, pan=0.12, room=0.2)


def strokes_known() -> tuple[str, ...]:
    """What a drum kit here can strike."""
    return tuple(LASTS)
