"""Scale degrees of our analysis, counted from the major scale, as MusicXML counts them: from the mode's own."""

from __future__ import annotations

_NATURAL_MINOR = {3: -1, 6: -1, 7: -1}


def numeral_of(degree: str, mode: str) -> tuple[int, int]:
    """`numeral-root` and `numeral-alter` of a degree: in a natural minor key "b3" is simply 3.

    >>> numeral_of("b3", "minor"), numeral_of("7", "minor"), numeral_of("#4", "major")
    ((3, 0), (7, 1), (4, 1))
    """
    number = int(degree.lstrip("b#"))
    alter = degree.count("#") - degree.count("b")
    return number, alter - (_NATURAL_MINOR.get(number, 0) if mode == "minor" else 0)
