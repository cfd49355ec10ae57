"""Chord kinds as a table: what each one contains, and what other notations call it.

Sources: MusicXML 4.0, type `kind-value` (W3C Community Group, 2021) for the `musicxml` column; Harte, Sandler,
Abdallah and Gómez, *Symbolic representation of musical chords*, ISMIR 2005, table 1, for the `harte` column
(`aug7` is written `7(*5,#5)` there). Families and spellings are common practice, no single source.

Degrees are counted against the major scale of the root: "3" is a major third, "b7" a minor seventh. An
extension (9, 11, 13) belongs to a chord's degrees, not to its kind: C13 is a "dominant" with 9 and 13.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

Family = Literal["major", "minor", "dominant", "half-diminished", "diminished", "augmented", "suspended", "power"]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of chord.

    id        our name for it, used in data that is kept.
    label     as it is said in a sentence.
    degrees   the chord tones, root included.
    family    what it behaves like when its extensions are forgotten.
    text      the canonical spelling after the root.
    musicxml  value of MusicXML's `kind` element.
    harte     shorthand of Harte et al. 2005, "" where a list of degrees is needed.
    """

    id: str
    label: str
    degrees: tuple[str, ...]
    family: Family
    text: str
    musicxml: str
    harte: str


KINDS: dict[str, Kind] = {
    kind.id: kind
    for kind in (
        Kind("major", "major triad", ("1", "3", "5"), "major", "", "major", "maj"),
        Kind("minor", "minor triad", ("1", "b3", "5"), "minor", "m", "minor", "min"),
        Kind("augmented", "augmented triad", ("1", "3", "#5"), "augmented", "aug", "augmented", "aug"),
        Kind("diminished", "diminished triad", ("1", "b3", "b5"), "diminished", "dim", "diminished", "dim"),
        Kind("dominant", "dominant seventh", ("1", "3", "5", "b7"), "dominant", "7", "dominant", "7"),
        Kind("major-seventh", "major seventh", ("1", "3", "5", "7"), "major", "maj7", "major-seventh", "maj7"),
        Kind("minor-seventh", "minor seventh", ("1", "b3", "5", "b7"), "minor", "m7", "minor-seventh", "min7"),
        Kind(
            "half-diminished", "half-diminished seventh", ("1", "b3", "b5", "b7"),
            "half-diminished", "m7b5", "half-diminished", "hdim7",
        ),
        Kind(
            "diminished-seventh", "diminished seventh", ("1", "b3", "b5", "bb7"),
            "diminished", "dim7", "diminished-seventh", "dim7",
        ),
        Kind(
            "minor-major-seventh", "minor with major seventh", ("1", "b3", "5", "7"),
            "minor", "m(maj7)", "major-minor", "minmaj7",
        ),
        Kind(
            "diminished-major-seventh", "diminished with major seventh", ("1", "b3", "b5", "7"),
            "diminished", "dim(maj7)", "diminished", "",
        ),
        Kind("augmented-seventh", "augmented seventh", ("1", "3", "#5", "b7"), "dominant", "7#5",
             "augmented-seventh", ""),
        Kind("major-sixth", "major sixth chord", ("1", "3", "5", "6"), "major", "6", "major-sixth", "maj6"),
        Kind("minor-sixth", "minor sixth chord", ("1", "b3", "5", "6"), "minor", "m6", "minor-sixth", "min6"),
        Kind("suspended-fourth", "suspended fourth", ("1", "4", "5"), "suspended", "sus4",
             "suspended-fourth", "sus4"),
        Kind("suspended-seventh", "suspended seventh", ("1", "4", "5", "b7"), "suspended", "7sus4",
             "suspended-fourth", ""),
        Kind("suspended-second", "suspended second", ("1", "2", "5"), "suspended", "sus2",
             "suspended-second", ""),
        Kind("power", "root and fifth", ("1", "5"), "power", "5", "power", ""),
    )
}  # fmt: skip

ALTERED = ("1", "3", "b7", "b9", "#9", "#11", "b13")
"""The degrees of 7alt: no fifth, every alteration (Harte form `7(*5,b9,#9,#11,b13)`)."""

IMPLY_SEVENTH = frozenset({"b9", "#9", "b13"})
"""Alterations that, written on a bare triad, mean a dominant seventh; "add" before them takes that back."""

FIFTHS = frozenset({"b5", "5", "#5"})
SEVENTHS = frozenset({"bb7", "b7", "7"})
THIRDS = frozenset({"b3", "3"})
SUSPENSIONS = frozenset({"2", "4"})


@lru_cache(maxsize=256)
def degree_parts(degree: str) -> tuple[int, int]:
    """Number and alteration: "b13" → (13, −1)."""
    match = re.fullmatch(r"([b#]*)(\d+)", degree)
    if match is None:
        raise ValueError(f"{degree!r} is not a degree")
    signs = match[1]
    return int(match[2]), len(signs) if signs.startswith("#") else -len(signs)


def in_order(degrees: set[str] | frozenset[str] | tuple[str, ...]) -> tuple[str, ...]:
    """Degrees from the root up, each once.

    >>> in_order(("b9", "1", "b7", "3", "#9"))
    ('1', '3', 'b7', 'b9', '#9')
    """
    return tuple(sorted(set(degrees), key=degree_parts))


def kind_of(degrees: frozenset[str]) -> Kind:
    """The kind that a set of degrees belongs to, alterations of the fifth and extensions set aside.

    >>> kind_of(frozenset({"1", "3", "b5", "b7", "9"})).id, kind_of(frozenset({"1", "4", "5", "b7"})).id
    ('dominant', 'suspended-seventh')
    """
    core = _core(degrees)
    return _KIND_BY_CORE.get(core) or KINDS[_kind_by_rule(degrees)]


def _core(degrees: frozenset[str]) -> frozenset[str]:
    """Without extensions, which are numbered 9 and up."""
    return frozenset(degree for degree in degrees if degree_parts(degree)[0] <= 7)


_KIND_BY_CORE = {frozenset(kind.degrees): kind for kind in KINDS.values()}


def _kind_by_rule(degrees: frozenset[str]) -> str:
    """For altered or missing fifths: decided by third and seventh, as the ear does."""
    if not degrees & THIRDS:
        return _kind_without_third(degrees)
    minor = "b3" in degrees
    if "b7" in degrees:
        return "minor-seventh" if minor else "dominant"
    if "bb7" in degrees:
        return "diminished-seventh"
    if "7" in degrees:
        return "minor-major-seventh" if minor else "major-seventh"
    if "6" in degrees:
        return "minor-sixth" if minor else "major-sixth"
    return "minor" if minor else "major"


def _kind_without_third(degrees: frozenset[str]) -> str:
    if "4" in degrees:
        return "suspended-seventh" if "b7" in degrees else "suspended-fourth"
    return "suspended-second" if "2" in degrees else "power"
