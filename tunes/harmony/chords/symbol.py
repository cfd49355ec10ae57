"""Chord symbols: exact spelled tones by degree, one canonical text, one form with signs, one that is spoken.

A symbol is its root, its degrees and its bass: everything else is worked out from those, so two
spellings of one chord are equal.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from tunes.harmony.chords.vocabulary import ALTERED, KINDS, SEVENTHS, THIRDS, Family, in_order, kind_of
from tunes.harmony.chords.wording import wording
from tunes.harmony.pitch.spelling import Interval, NoteName, degree_between, degree_interval
from tunes.harmony.problems import Problem

NO_CHORD = "N.C."


@dataclass(frozen=True, slots=True)
class DisplayParts:
    """What a page sets as text: root letter, accidental sign, body on the line, superscript, bass ("" if none)."""

    root: str
    accidental: str
    body: str
    superscript: str
    bass: str

    @property
    def text(self) -> str:
        """All of it on one line."""
        slash = f"/{self.bass}" if self.bass else ""
        return f"{self.root}{self.accidental}{self.body}{self.superscript}{slash}"


@dataclass(frozen=True, slots=True)
class ChordSymbol:
    """A chord. Build it with `make_symbol`, which puts degrees in order and finds the kind.

    root     spelled root.
    kind     id in `vocabulary.KINDS`.
    degrees  all degrees from the root up, e.g. ("1", "3", "b7", "b9"); extensions are 9, 11, 13.
    bass     sounding bass when it is not the root.
    """

    root: NoteName
    kind: str
    degrees: tuple[str, ...]
    bass: NoteName | None = None

    @property
    def tones(self) -> tuple[NoteName, ...]:
        """Spelled tones, one per degree, root first; the bass is not added."""
        return _tones(self.root, self.degrees)

    @property
    def pcs(self) -> frozenset[int]:
        """Pitch classes of the tones (without the bass)."""
        return frozenset(tone.pc for tone in self.tones)

    @property
    def family(self) -> Family:
        return KINDS[self.kind].family

    @property
    def kind_text(self) -> str:
        """The canonical text after the root: "m7b5", "" for a major triad."""
        return wording(self.degrees).text

    @property
    def text(self) -> str:
        """Canonical ASCII: "Cm7b5", "Db7(b9,#11)", "C/E"."""
        slash = f"/{self.bass.text}" if self.bass else ""
        return f"{self.root.text}{self.kind_text}{slash}"

    @property
    def display_parts(self) -> DisplayParts:
        words = wording(self.degrees)
        bass = self.bass.display if self.bass else ""
        return DisplayParts(self.root.letter, self.root.accidental, words.body, words.superscript, bass)

    @property
    def display(self) -> str:
        """With real signs: "Cø7", "D♭7(♭9,♯11)"."""
        return self.display_parts.text

    @property
    def spoken(self) -> str:
        """For a screen reader: "D flat minor 7 over B flat"."""
        over = f" over {self.bass.spoken}" if self.bass else ""
        return f"{self.root.spoken} {wording(self.degrees).spoken}{over}".replace("  ", " ")

    @property
    def bass_degree(self) -> str:
        """The bass as a degree of the chord, "1" when it is the root."""
        return degree_between(self.root, self.bass) if self.bass else "1"

    def has(self, *degrees: str) -> bool:
        """Whether every one of these degrees is in the chord."""
        return all(degree in self.degrees for degree in degrees)

    def tone(self, degree: str) -> NoteName:
        """The note of a degree above the root, in the chord or not; SpellingError for a bad degree."""
        return self.root + degree_interval(degree)

    def degree_of(self, name: NoteName) -> str | None:
        """The chord's degree that has exactly this spelling, or None."""
        for degree, tone in zip(self.degrees, self.tones, strict=True):
            if tone == name:
                return degree
        return None

    @property
    def third(self) -> NoteName | None:
        """The 3rd, or what stands for it (4th or 2nd of a suspended chord)."""
        return next((self.tone(d) for d in ("3", "b3", "4", "2") if d in self.degrees), None)

    @property
    def seventh(self) -> NoteName | None:
        """The 7th, or the 6th that stands for it in a sixth chord."""
        return next((self.tone(d) for d in ("7", "b7", "bb7", "6") if d in self.degrees), None)

    @property
    def fifth(self) -> NoteName | None:
        return next((self.tone(d) for d in ("5", "b5", "#5") if d in self.degrees), None)

    @property
    def is_altered(self) -> bool:
        """Written 7alt, or the same degrees spelled out."""
        return self.degrees == ALTERED

    def transposed(self, interval: Interval) -> ChordSymbol:
        bass = self.bass + interval if self.bass else None
        return ChordSymbol(self.root + interval, self.kind, self.degrees, bass)

    def without_bass(self) -> ChordSymbol:
        return ChordSymbol(self.root, self.kind, self.degrees)

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True)
class SymbolReading:
    """What became of one chord text: a symbol, or None for N.C. (no problem) or unreadable (a problem).

    remarks say how an ambiguous spelling was understood.
    """

    symbol: ChordSymbol | None
    problem: Problem | None = None
    remarks: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        return self.problem is None


def make_symbol(
    root: NoteName, degrees: tuple[str, ...] | set[str] | frozenset[str], bass: NoteName | None = None
) -> ChordSymbol:
    """The symbol with these degrees; a fifth that stands beside a perfect one is its enharmonic tension.

    >>> make_symbol(NoteName("C"), ("1", "3", "b7", "5", "b5")).text
    'C7#11'
    """
    tidy = _tidy(set(degrees) | {"1"})
    kind = kind_of(frozenset(tidy))
    return ChordSymbol(root, kind.id, in_order(tidy), None if bass == root else bass)


def _tidy(degrees: set[str]) -> set[str]:
    if "5" in degrees:
        degrees = _renamed(_renamed(degrees, "b5", "#11"), "#5", "b13")
    if degrees & THIRDS:
        degrees = _renamed(_renamed(degrees, "4", "11"), "2", "9")
    if "4" in degrees:
        degrees = _renamed(degrees, "2", "9") - {"11"}
    if "2" in degrees:
        degrees = degrees - {"9"}
    if degrees & SEVENTHS:
        degrees = _renamed(degrees, "6", "13")
    if "6" in degrees:
        degrees = degrees - {"13"}
    if "3" in degrees:
        degrees = _renamed(degrees, "b3", "#9")
    return degrees


def _renamed(degrees: set[str], old: str, new: str) -> set[str]:
    return (degrees - {old}) | {new} if old in degrees else degrees


@lru_cache(maxsize=8192)
def _tones(root: NoteName, degrees: tuple[str, ...]) -> tuple[NoteName, ...]:
    return tuple(root + degree_interval(degree) for degree in degrees)
