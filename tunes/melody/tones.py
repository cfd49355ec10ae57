"""What the twelve notes are over a chord: degree, chord tone, tension.

Chord tones are root, third, fifth and the written 6th or 7th (a triad has three; a suspended chord 1 4 5 ♭7; a
diminished one its four; an altered dominant 1 3 ♭7 and the fifth that the symbol leaves open). This is the definition of the counts published for
recorded solos: Pfleiderer, Frieler, Abeßer, Zaddach and Burkhart (eds.), *Inside the Jazzomat*, Schott 2017.
Tensions are what a player may hold: a whole step above a chord tone, all but the 11th over a dominant (Nettles and
Graf, *The Chord Scale Theory and Jazz Harmony*, 1997).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.chords.vocabulary import degree_parts
from tunes.harmony.pitch.spelling import NoteName, degree_interval

ChordClass = Literal[
    "major", "major 6", "major 7", "minor", "minor 6", "minor 7", "minor major 7", "dominant", "dominant ♯5", "suspended",
    "half-diminished", "diminished", "augmented", "major 7 ♯5",
]  # fmt: skip

_DOMINANT_TENSIONS = frozenset({1, 2, 3, 6, 8, 9})
TENSIONS: dict[ChordClass, frozenset[int]] = {
    "major": frozenset({2, 6, 9, 11}), "major 6": frozenset({2, 6, 11}), "major 7": frozenset({2, 6, 9}),
    "minor": frozenset({2, 5, 9, 10, 11}), "minor 6": frozenset({2, 5, 11}), "minor 7": frozenset({2, 5, 9}),
    "minor major 7": frozenset({2, 5, 9}), "dominant": _DOMINANT_TENSIONS, "dominant ♯5": frozenset({1, 2, 3, 6}),
    "suspended": frozenset({1, 2, 4, 9}), "half-diminished": frozenset({2, 5, 8}), "diminished": frozenset({2, 5, 8, 11}),
    "augmented": frozenset({2, 6, 10, 11}), "major 7 ♯5": frozenset({2, 6, 9}),
}  # fmt: skip

_PLAIN = ("1", "b9", "9", "b3", "3", "11", "#11", "5", "b13", "13", "b7", "7")
_OVER: dict[ChordClass, dict[int, str]] = {
    "dominant": {3: "#9"}, "dominant ♯5": {3: "#9", 8: "#5"}, "suspended": {3: "#9", 5: "4"},
    "minor": {6: "b5", 9: "6"}, "minor 6": {6: "b5", 9: "6"}, "minor 7": {6: "b5"}, "minor major 7": {6: "b5"},
    "half-diminished": {6: "b5"}, "diminished": {6: "b5", 9: "bb7"}, "augmented": {8: "#5"},
    "major 7 ♯5": {8: "#5"}, "major": {9: "6"}, "major 6": {9: "6"},
}  # fmt: skip
_FAMILY: dict[str, ChordClass] = {
    "major": "major", "minor": "minor", "dominant": "dominant", "half-diminished": "half-diminished",
    "diminished": "diminished", "augmented": "augmented", "suspended": "suspended", "power": "major",
}  # fmt: skip
_KIND: dict[str, ChordClass] = {
    "major-seventh": "major 7", "major-sixth": "major 6", "minor-seventh": "minor 7", "minor-sixth": "minor 6",
    "minor-major-seventh": "minor major 7", "augmented-seventh": "dominant ♯5",
    "diminished-major-seventh": "diminished",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Tones:
    """The twelve notes over one chord, by semitones above its root.

    root      pitch class.
    degrees   twelve names: "1", "b9", "9", "#9" or "b3", …
    inside    chord tones; colours: tensions, those of the symbol included.
    """

    root: int
    cls: ChordClass
    degrees: tuple[str, ...]
    names: tuple[NoteName, ...]
    inside: frozenset[int]
    colours: frozenset[int]

    def degree(self, midi: int) -> str:
        return self.degrees[(midi - self.root) % 12]


def chord_class(symbol: ChordSymbol) -> ChordClass:
    """One of fourteen kinds of chord, extensions set aside.

    >>> from tunes.harmony.chords import parse_symbol
    >>> [chord_class(parse_symbol(text).symbol) for text in ("C13#11", "Cdim", "C9sus4", "C69")]
    ['dominant', 'diminished', 'suspended', 'major 6']
    """
    if symbol.family == "major" and "#5" in symbol.degrees and "7" in symbol.degrees:
        return "major 7 ♯5"
    return _KIND.get(symbol.kind) or _FAMILY[symbol.family]


@lru_cache(maxsize=2048)
def tones_of(symbol: ChordSymbol) -> Tones:
    """The twelve notes over a chord; the symbol's own tensions are named as it writes them."""
    cls = chord_class(symbol)
    degrees = list(_PLAIN)
    for semitones, name in _OVER.get(cls, {}).items():
        degrees[semitones] = name
    written = {degree_interval(degree).semitones % 12: degree for degree in symbol.degrees}
    for semitones, degree in written.items():
        degrees[semitones] = degree
    inside = _inside(symbol)
    colours = (TENSIONS[cls] | written.keys()) - inside
    names = tuple(symbol.root + degree_interval(degree) for degree in degrees)
    return Tones(symbol.root.pc, cls, tuple(degrees), names, inside, frozenset(colours))


def _inside(symbol: ChordSymbol) -> frozenset[int]:
    """The degrees up to the 7th that are written, and those that everybody plays where the symbol is short of them."""
    own = {degree_interval(degree).semitones % 12 for degree in symbol.degrees if degree_parts(degree)[0] <= 7}
    if symbol.kind == "diminished":
        own.add(9)
    if symbol.kind == "suspended-fourth":
        own.add(10)
    if symbol.is_altered:
        own.add(7)
    return frozenset(own)
