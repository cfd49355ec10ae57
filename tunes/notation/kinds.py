"""The 33 chord kinds of MusicXML 4.0 as spelled degrees: read off our own table of kinds, never a second one.

Source: W3C, MusicXML 4.0 XSD (2021), types `kind-value` and `degree`. A degree here is `(number, alter)`
against the major scale of the root: `(7, -1)` is the minor seventh.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tunes.harmony.chords.vocabulary import KINDS as OUR_KINDS
from tunes.harmony.chords.vocabulary import degree_parts

Degree = tuple[int, int]
Degrees = frozenset[Degree]

# Sevenths that MusicXML has stacked kinds on; each stands on the one before.
STACKED = {"dominant": "dominant", "major-seventh": "major", "minor-seventh": "minor"}
_STACK: tuple[tuple[str, Degree], ...] = (("ninth", (9, 0)), ("11th", (11, 0)), ("13th", (13, 0)))
# Two of our kinds that MusicXML writes as another kind and a degree.
_WITH_A_DEGREE = ("diminished-major-seventh", "suspended-seventh")


def parts_of(degrees: Iterable[str]) -> Degrees:
    """Degrees of a chord symbol as numbers: "b7" is (7, -1)."""
    return frozenset(degree_parts(degree) for degree in degrees)


def symbol_degrees(degrees: Degrees) -> frozenset[str]:
    """Degrees as our chord symbols write them: (7, -1) is "b7"."""
    return frozenset(("b" * -alter if alter < 0 else "#" * alter) + str(number) for number, alter in degrees)


def _kinds() -> dict[str, Degrees]:
    found = {kind.musicxml: parts_of(kind.degrees) for kind in OUR_KINDS.values() if kind.id not in _WITH_A_DEGREE}
    for seventh, name in STACKED.items():
        degrees = found[OUR_KINDS[seventh].musicxml]
        for word, extension in _STACK:
            degrees = degrees | {extension}
            found[f"{name}-{word}"] = degrees
    return {**found, "pedal": frozenset({(1, 0)}), "other": frozenset({(1, 0)})}


KINDS: dict[str, Degrees] = _kinds()
"""Degrees of every `kind-value` that says by itself which notes there are; "other" is the root alone, to be added to."""


@dataclass(frozen=True)
class FunctionalKind:
    """A kind named by what it does: the sound it makes on the root written, and how we say so.

    `degrees` are against the root written in the file. Neapolitan, Italian, French, German: any harmony
    textbook's definition (common practice, no single source): a major triad on the lowered second; a
    sixth chord whose augmented sixth sounds as a minor seventh above its own bass. Tristan: the sonority
    1 #4 #6 #9 sounds as a half-diminished seventh.
    """

    degrees: Degrees
    says: str


FUNCTIONAL: dict[str, FunctionalKind] = {
    "Neapolitan": FunctionalKind(KINDS["major"], "Neapolitan sixth read as the major triad on its root"),
    "Italian": FunctionalKind(KINDS["dominant"], "Italian sixth read as a dominant seventh on its root"),
    "French": FunctionalKind(
        frozenset(((1, 0), (3, 0), (5, -1), (7, -1))), "French sixth read as a dominant seventh flat five"
    ),
    "German": FunctionalKind(KINDS["dominant"], "German sixth read as a dominant seventh on its root"),
    "Tristan": FunctionalKind(KINDS["half-diminished"], "Tristan chord read as a half-diminished seventh"),
    "pedal": FunctionalKind(KINDS["power"], "pedal point read as root and fifth"),
}

ALL_KINDS: frozenset[str] = frozenset(KINDS) | frozenset(FUNCTIONAL) | {"none"}


# Values that programs write although the XSD has no such value; read as what they plainly mean.
SPELLED_OTHERWISE: dict[str, str] = {
    "minor-major": "major-minor",
    "dominant-seventh": "dominant",
    "half-diminished-seventh": "half-diminished",
    "suspended": "suspended-fourth",
}


def known_kind(name: str) -> str:
    """The XSD's own value for a kind, whatever its case; the name itself when there is none."""
    plain = SPELLED_OTHERWISE.get(name.lower(), name)
    return next((kind for kind in ALL_KINDS if kind.lower() == plain.lower()), plain)
