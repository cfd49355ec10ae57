"""Whether an answer says the quality of a chord: by a word, by its name, by the case of a numeral, by the number alone."""

from __future__ import annotations

from tunes.harmony.answers.echo import BARE_QUALITY
from tunes.harmony.answers.form import Answer
from tunes.harmony.readings.function import Function, say_degree

FAMILY: dict[str, str] = {
    "": "major",
    "6": "major",
    "maj7": "major",
    "7": "dominant",
    "7sus": "suspended",
    "sus": "suspended",
    "m": "minor",
    "m6": "minor",
    "m7": "minor",
    "mmaj7": "minor",
    "m7b5": "half-diminished",
    "dim": "diminished",
    "dim7": "diminished",
    "aug": "augmented",
    "5": "power",
}
"""Chord families that count as one quality in an answer: a triad and its seventh chord are not told apart."""

_MINOR_THIRD = ("minor", "half-diminished", "diminished")


def quality_of(given: Answer, expected: Function) -> str:
    """ "right", "open" (not given), "case" (not given, but a small numeral on a chord with a major third) or "wrong":
    whether the quality that an answer gives, or implies by its name or its case, is the chord's.

    >>> iim7 = Function("2", "m7", "predominant", "diatonic")
    >>> [quality_of(Answer("2", q, lower=low), iim7) for q, low in ((None, None), (None, True), ("m", None), ("7", None))]
    ['right', 'right', 'right', 'wrong']
    """
    family = FAMILY.get(expected.quality, "major")
    stated = given.quality
    if stated is not None:
        return "right" if _agrees(FAMILY.get(stated, "major"), family, expected) else "wrong"
    if given.frame and given.frame == expected.of:
        return "right"  # as the chord is named: "5 of 5" says no quality, whatever kind of dominant it is
    if given.frame == "2":
        return "right" if family in ("minor", "half-diminished") else "open"
    if given.frame == "7":
        return "right" if family in ("diminished", "half-diminished") else "wrong"
    if given.frame:
        return "right" if _agrees("dominant", family, expected) else "wrong"
    return _by_case(given, family, expected)


def _by_case(given: Answer, family: str, expected: Function) -> str:
    """A number alone says the chord that is spoken by it: 2 minor, 4 major, 5 and flat 7 with their seventh. A Roman
    numeral says what its case says as well: "iv" minor, "VI" major."""
    if given.lower is True:
        if family == "minor":
            return "right"
        return "open" if family in _MINOR_THIRD else "case"
    if expected.quality == "maj7" and expected.degree == "5":
        return "open"
    spoken = expected.spoken in (say_degree(expected.degree), expected.of)
    said = FAMILY[BARE_QUALITY.get(expected.degree, "")] == family
    return "right" if spoken or said or (given.lower is False and family == "major") else "open"


def _agrees(stated: str, family: str, expected: Function) -> bool:
    if stated == family:
        return True
    if expected.role == "dominant" and {stated, family} <= {"dominant", "suspended", "augmented", "power"}:
        return stated == "dominant"
    return (
        stated == "dominant" and expected.role == "dominant" and expected.quality == ""
    )  # a triad is as good as its seventh
