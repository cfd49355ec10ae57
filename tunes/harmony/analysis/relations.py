"""How one chord can prepare another: the moves that the grammar knows.

Sources: Steedman, *A generative grammar for jazz chord sequences*, Music Perception 2 (1984); Granroth-Wilding &
Steedman, *A robust parser-interpreter for jazz chord sequences*, JNMR 43 (2014); Rohrmeier, *The syntax of jazz
harmony*, Music Theory and Analysis 7 (2020).
"""

from __future__ import annotations

from tunes.harmony.analysis.sounds import DIM, DOM, DOMINANTS, HALF, MAJ, MIN, STABLE, same_function

HOLD = "hold"  # the same chord again
RECOLOUR = "recolour"  # the same root in another quality
FIFTH = "fifth"  # a dominant falls a fifth
TRITONE = "tritone"  # its tritone substitute falls a semitone
BACKDOOR = "backdoor"  # the dominant on flat seven rises a tone to a chord at rest
SUPERTONIC = "supertonic"  # a minor or half-diminished chord before the dominant a fifth below
CHROMATIC_II = "chromatic-ii"  # the same before the substitute dominant, a semitone below
LEADING = "leading"  # a diminished chord rises a semitone
PLAGAL = "plagal"  # the root rises a fifth: 4 to 1, or 1 to 5
FALLING = "falling"  # any other fall of a fifth
OTHER = "other"
RELATIONS = (HOLD, RECOLOUR, FIFTH, TRITONE, BACKDOOR, SUPERTONIC, CHROMATIC_II, LEADING, PLAGAL, FALLING, OTHER)

DOMINANT_MOVES = frozenset({FIFTH, TRITONE, BACKDOOR, LEADING})
"""Moves of a dominant to its goal."""
SUPERTONIC_MOVES = frozenset({SUPERTONIC, CHROMATIC_II})

_PLAGAL_CLASSES = (MAJ, MIN, DOM)


def relation(move: int, a: str, b: str) -> str:
    """The relation of a chord of class `a` to one of class `b` whose root lies `move` semitones higher (0-11).

    >>> relation(5, "dom", "maj"), relation(11, "dom", "min"), relation(5, "hdim", "dom"), relation(2, "dom", "maj")
    ('fifth', 'tritone', 'supertonic', 'backdoor')
    """
    found = _CACHE.get((move, a, b))
    if found is None:
        found = _CACHE[move, a, b] = _relation(move, a, b)
    return found


_CACHE: dict[tuple[int, str, str], str] = {}


def _relation(move: int, a: str, b: str) -> str:
    if move == 0:
        return HOLD if same_function(a, b) else RECOLOUR
    if a in DOMINANTS:
        if move in (5, 11):
            return FIFTH if move == 5 else TRITONE
        if move == 2 and b in STABLE:
            return BACKDOOR
    if a in (MIN, HALF) and b in DOMINANTS and move in (5, 11):
        return SUPERTONIC if move == 5 else CHROMATIC_II
    if a == DIM and move == 1:
        return LEADING
    if move == 7 and a in _PLAGAL_CLASSES and b in _PLAGAL_CLASSES:
        return PLAGAL
    return FALLING if move == 5 else OTHER
