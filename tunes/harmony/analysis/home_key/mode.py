"""The mode of a tune that begins in minor and ends in major.

A minor tune may close on the major tonic (a Picardy third: Kostka & Payne, *Tonal Harmony*).  The end alone then does not
make the tune major: it is in minor, ending in major.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from tunes.harmony.analysis.home_key.home import MAJOR, MINOR
from tunes.harmony.analysis.sounds import DOMINANTS, MAJ, MIN, Stretch

_LAST_QUARTER = 0.75


def own_mode(chords: Sequence[Stretch], tonic: int, mode: str) -> str:
    """The mode of a tune whose key has been found: minor when it begins on the minor tonic, comes back to it by its
    dominant, and has the major tonic in its last quarter only.

    >>> from tunes.harmony.analysis.sounds import Stretch
    >>> cells = ((0, "min", "m6"), (7, "dom", "7"), (0, "min", "m6"), (5, "min", "m7"), (7, "dom", "7"), (0, "maj", ""))
    >>> chords = [Stretch(r, c, q, 8.0 * i, 8.0, i, i) for i, (r, c, q) in enumerate(cells)]
    >>> own_mode(chords, 0, "major")
    'minor'
    """
    if mode != MAJOR or (chords[0].root, chords[0].cls) != (tonic, MIN):
        return mode
    end = chords[-1].onset + chords[-1].duration
    comes_back = any(
        a.cls in DOMINANTS and (b.root - a.root) % 12 == 5 and (b.root, b.cls) == (tonic, MIN)
        for a, b in pairwise(chords)
    )
    late = all(chord.onset >= end * _LAST_QUARTER for chord in chords if (chord.root, chord.cls) == (tonic, MAJ))
    return MINOR if comes_back and late else mode


def ends_otherwise(chords: Sequence[Stretch], last_tonic: int | None, tonic: int, mode: str) -> str:
    """The other mode, when a tune comes to rest in it; else an empty string."""
    if last_tonic is None or chords[last_tonic].root != tonic:
        return ""
    other = {(MIN, MAJOR): MINOR, (MAJ, MINOR): MAJOR}
    return other.get((chords[last_tonic].cls, mode), "")
