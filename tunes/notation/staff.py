"""What stands on a staff, in the words of MusicXML 4.0 (W3C, 2021) and MEI 5.1 (Music Encoding Initiative)."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

# Note values as the reciprocal of a whole note, and what MusicXML calls them (`note-type-value`).
TYPES = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th"}
CLEFS = {"treble": ("G", 2), "bass": ("F", 4)}  # sign, line


def note_values(dots: int) -> dict[Fraction, tuple[int, int]]:
    """Crotchets to (note value, dots), with up to so many dots: what one note head can say.

    >>> note_values(1)[Fraction(3)], note_values(2)[Fraction(7, 2)]
    ((2, 1), (2, 2))
    """
    return {
        Fraction(4, value) * (2 - Fraction(1, 2**count)): (value, count) for value in TYPES for count in range(dots + 1)
    }


@dataclass(frozen=True, slots=True)
class Accidental:
    """`musicxml`: `accidental-value`. `mei`: printed (`data.ACCIDENTAL.WRITTEN`). `sounds`: MEI's word for what only sounds."""

    musicxml: str
    mei: str
    sounds: str


ACCIDENTALS: dict[int, Accidental] = {
    -2: Accidental("flat-flat", "ff", "ff"),
    -1: Accidental("flat", "f", "f"),
    0: Accidental("natural", "n", "n"),
    1: Accidental("sharp", "s", "s"),
    2: Accidental("double-sharp", "x", "ss"),
}
"""By alteration in semitones."""
