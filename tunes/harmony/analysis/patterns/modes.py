"""Modal passages: one centre, and the chords that show the degree by which a mode differs from major or minor.

A mode is heard when its tonic chord is the centre, comes back, and alternates with a chord that has the characteristic
degree, with no dominant that leads home (Miller, *Modal Jazz Composition & Harmony*, 1996; the pairs are the vamps of common
practice: Dorian i–IV7, Phrygian i–bII, Lydian I–II, Mixolydian I7–bVII).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import NamedTuple

from tunes.harmony.analysis.patterns.basses import root_of
from tunes.harmony.pitch.spelling import CHURCH_MODES, Key, NoteName, degree_interval
from tunes.harmony.readings.reading import Analysis, Reading

_MAJOR, _MINOR, _SEVENTH = ("", "6", "maj7"), ("m", "m7", "m6"), ("7",)
_LEAST = 4  # chords; three over a pedal are enough
TAG = "mode-"


class Mode(NamedTuple):
    """A mode: the qualities of its tonic, the chords that show it (semitones above the tonic, qualities), the degree that
    they have, and how far below the tonic the major scale with the same notes begins."""

    name: str
    tonic: tuple[str, ...]
    others: dict[int, tuple[str, ...]]
    degree: str
    below: int


MODES = (
    Mode("dorian", _MINOR, {5: (*_SEVENTH, *_MAJOR), 2: ("m", "m7")}, "natural 6", 2),
    Mode("phrygian", ("m", "m7"), {1: _MAJOR, 10: ("m", "m7")}, "flat 2", 4),
    Mode("lydian", _MAJOR, {2: ("", "6"), 11: ("m", "m7")}, "sharp 4", 5),
    Mode("mixolydian", ("", "6", "7", "7sus", "sus"), {10: _MAJOR, 7: ("m", "m7")}, "flat 7", 7),
)
BY_NAME = {mode.name: mode for mode in MODES}


class Passage(NamedTuple):
    """The events `first` to `last` in a mode, with its centre as a degree of the key area and by name."""

    mode: Mode
    first: int
    last: int
    degree: str
    centre: NoteName

    @property
    def tag(self) -> str:
        """What its chords are marked with: "mode-dorian", or "mode-lydian-b3" when its centre is not the tonic."""
        return f"{TAG}{self.mode.name}" + ("" if self.degree == "1" else f"-{self.degree}")

    @property
    def key(self) -> Key:
        """The centre with its mode: D dorian."""
        return Key(self.centre, CHURCH_MODES[self.mode.name], self.mode.name)


def tag_words(tag: str) -> str:
    """A tag in words.

    >>> tag_words("mode-dorian"), tag_words("mode-lydian-b3")
    ('Dorian', 'Lydian on flat 3')
    """
    name, _, degree = tag.removeprefix(TAG).partition("-")
    where = f" on {degree.replace('b', 'flat ').replace('#', 'sharp ')}" if degree else ""
    return f"{name.capitalize()}{where}"


def mode_of(tags: Sequence[str]) -> tuple[Mode, str] | None:
    """The mode that a chord is marked with, and its centre as a degree of the key area."""
    tag = next((tag for tag in tags if tag.startswith(TAG)), None)
    if tag is None:
        return None
    name, _, degree = tag.removeprefix(TAG).partition("-")
    return BY_NAME[name], degree or "1"


def passages(analysis: Analysis, basses: Sequence[int | None]) -> list[Passage]:
    """The modal passages of a chart, in order; none overlaps another."""
    chords = [list(group) for _, group in itertools.groupby(analysis.readings, key=_sound)]
    found: list[Passage] = []
    start = 0
    while start < len(chords):
        hits = [hit for centre in chords[start : start + 2] for mode in MODES
                if (hit := _at(chords, start, centre[0], mode, basses)) is not None]  # fmt: skip
        if hits:
            best = max(hits, key=lambda hit: hit[0])
            found.append(best[1])
            start = best[0]
        else:
            start += 1
    return found


def _sound(reading: Reading) -> tuple[int, str, str]:
    return root_of(reading), reading.function.quality, reading.function.kind


def _at(
    chords: Sequence[Sequence[Reading]], start: int, centre: Reading, mode: Mode, basses: Sequence[int | None]
) -> tuple[int, Passage] | None:
    """The passage of a mode that begins at a chord, with the place after its last one."""
    root = root_of(centre)
    end = start
    while end < len(chords) and _fits(chords[end][0], root, mode):
        end += 1
    run = [reading for chord in chords[start:end] for reading in chord]
    roots = [root_of(chord[0]) for chord in chords[start:end]]
    if roots.count(root) < 2 or len(set(roots)) < 2 or centre.function.quality not in mode.tonic:
        return None
    held = {basses[reading.event] for reading in run} == {root}
    at_home = all(reading.key.tonic.pc == root for reading in run)
    if not held and (len(roots) < _LEAST or not at_home):
        return None
    degree = centre.function.degree
    name = centre.key.tonic + degree_interval(degree)
    return end, Passage(mode, run[0].event, run[-1].event, degree, name)


def _fits(reading: Reading, root: int, mode: Mode) -> bool:
    function = reading.function
    if function.role in ("dominant", "none"):
        return False
    above = (root_of(reading) - root) % 12
    return function.quality in (mode.tonic if above == 0 else mode.others.get(above, ()))
