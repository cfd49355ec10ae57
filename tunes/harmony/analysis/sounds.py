"""Chords as the analysis sees them: a root, one of a few classes, and a stretch of time.

The analysis works with pitch classes and intervals only, so that it is the same in every key; names are
spelled again at the end.  `Stretch` joins neighbouring chords that do the same thing (a repeated chord, a
suspended chord with its resolution), because a player hears one chord there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import NamedTuple

from tunes.harmony.charts.bars import Event
from tunes.harmony.chords.over_bass import heard_as, over_a_pedal
from tunes.harmony.chords.symbol import ChordSymbol

MAJ, MIN, DOM, HALF, DIM, AUG, SUS, NONE = "maj", "min", "dom", "hdim", "dim", "aug", "sus", "none"
STABLE = frozenset({MAJ, MIN})
"""Classes that can be at rest."""
DOMINANTS = frozenset({DOM, SUS, AUG})
"""Classes that can stand for a dominant."""

_FAMILY_CLASS = {
    "major": MAJ, "minor": MIN, "dominant": DOM, "half-diminished": HALF, "diminished": DIM,
    "augmented": AUG, "suspended": SUS, "power": MAJ,
}  # fmt: skip


class Sound(NamedTuple):
    """One chord: root and bass pitch class, class, reduced quality, onset and duration in beats, bar (from 0)."""

    root: int
    cls: str
    quality: str
    onset: float
    duration: float
    bass: int


class Stretch(NamedTuple):
    """Neighbouring chords that act as one: the events `first` to `last`, both included."""

    root: int
    cls: str
    quality: str
    onset: float
    duration: float
    first: int
    last: int


def reduced_quality(symbol: ChordSymbol) -> str:
    """The chord reduced to what its function depends on, as in `Function.quality`.

    >>> from tunes.harmony.chords import parse_symbol
    >>> [reduced_quality(parse_symbol(t).symbol) for t in ("C13#11", "Cm9", "CmMaj7", "C9sus", "C6/9", "Cm7b5")]
    ['7', 'm7', 'mmaj7', '7sus', '6', 'm7b5']
    """
    return _QUALITY[symbol.family](set(symbol.degrees))


def _seventh(degrees: set[str], plain: str) -> str:
    if "7" in degrees:
        return plain + "maj7"
    if "b7" in degrees:
        return plain + "7"
    return plain + "6" if "6" in degrees or "13" in degrees else plain


_QUALITY: dict[str, Callable[[set[str]], str]] = {
    "major": lambda d: _seventh(d, ""),
    "minor": lambda d: _seventh(d, "m"),
    "dominant": lambda d: "7",
    "half-diminished": lambda d: "m7b5",
    "diminished": lambda d: "dim7" if d & {"bb7", "6", "7"} else "dim",
    "augmented": lambda d: "maj7" if "7" in d else "aug",
    "suspended": lambda d: "7sus" if "b7" in d else "sus",
    "power": lambda d: "5",
}


def sound_of(symbol: ChordSymbol | None, onset: float, duration: float, pedal: bool = False) -> Sound:
    """The sound of a symbol at a place, in beats from the top; no symbol is N.C. Over a pedal it is what is written."""
    if symbol is None:
        return Sound(0, NONE, "", onset, duration, 0)
    symbol = symbol if pedal else heard_as(symbol)
    cls, quality = _kind(symbol)
    bass = symbol.bass.pc if symbol.bass else symbol.root.pc
    return Sound(symbol.root.pc, cls, quality, onset, duration, bass)


def _kind(symbol: ChordSymbol) -> tuple[str, str]:
    key = (symbol.kind, symbol.degrees)
    found = _KINDS.get(key)
    if found is None:
        quality = reduced_quality(symbol)
        cls = _FAMILY_CLASS[symbol.family]
        if cls == AUG and quality == "maj7":
            cls = MAJ
        if len(_KINDS) > 4096:
            _KINDS.clear()
        found = _KINDS[key] = (cls, quality)
    return found


_KINDS: dict[tuple[str, tuple[str, ...]], tuple[str, str]] = {}


def sounds_of(events: Sequence[Event]) -> tuple[list[Sound], float]:
    """The sounds of a chorus and the length of its first bar in beats; onsets count from its top."""
    sounds: list[Sound] = []
    top, chorus_bar, length = Fraction(0), 0, Fraction(0)
    held = over_a_pedal([event.symbol for event in events])
    for index, event in enumerate(events):
        if event.chorus_bar != chorus_bar:
            top, chorus_bar = top + length, event.chorus_bar
            length = Fraction(0)
        length = max(length, event.onset + event.duration)
        sounds.append(sound_of(event.symbol, float(top + event.onset), float(event.duration), index in held))
    beats = float(events[0].metre.beats) if events else 4.0
    return sounds, beats


def same_function(a: str, b: str) -> bool:
    """Whether two classes on one root do the same (a suspended chord belongs to its dominant)."""
    return a == b or (a in DOMINANTS and b in DOMINANTS)


def stretches(sounds: Sequence[Sound]) -> list[Stretch]:
    """Neighbours that do the same joined; silence is passed over."""
    joined: list[Stretch] = []
    for index, sound in enumerate(sounds):
        if sound.cls == NONE:
            continue
        last = joined[-1] if joined else None
        if last is not None and last.root == sound.root and same_function(last.cls, sound.cls):
            cls = DOM if DOM in (last.cls, sound.cls) else last.cls
            joined[-1] = Stretch(
                last.root, cls, last.quality, last.onset, sound.onset + sound.duration - last.onset, last.first, index
            )
        else:
            joined.append(Stretch(sound.root, sound.cls, sound.quality, sound.onset, sound.duration, index, index))
    return joined
