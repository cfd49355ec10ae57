"""Cadences that speak for a key: whole ones, those that insist on theirs, sequences, turnarounds.

Common practice, no single source; what each costs in another key is in `tables`.
"""

from __future__ import annotations

from collections.abc import Mapping

from tunes.harmony.analysis.home_key.home import MAJOR, MINOR
from tunes.harmony.analysis.preparation.skeleton import Skeleton
from tunes.harmony.analysis.sounds import DOM, DOMINANTS, HALF, MAJ, MIN, SUS, Stretch

KeyPc = tuple[int, str]
"""Tonic pitch class and mode."""


def key_of(chord: Stretch) -> KeyPc:
    """The key in which a chord at rest is the tonic."""
    return chord.root, MINOR if chord.cls == MIN else MAJOR


def cadence_cells(bones: Skeleton) -> dict[int, KeyPc]:
    """The ii and the V of every complete ii–V–I of neighbours, with the key it spells out; the V may be suspended, or
    its substitute a tritone away."""
    found: dict[int, KeyPc] = {}
    for index, (a, b, c) in enumerate(zip(bones.chords, bones.chords[1:], bones.chords[2:], strict=False)):
        fits = (a.cls == MIN and c.cls == MAJ) or (a.cls == HALF and c.cls == MIN)
        steps = (b.root - a.root) % 12, (c.root - b.root) % 12
        if fits and b.cls in (DOM, SUS) and steps in ((5, 5), (11, 11)):
            found[index] = found[index + 1] = key_of(c)
    return found


def insisted(bones: Skeleton, cells: Mapping[int, KeyPc]) -> frozenset[int]:
    """The ii and V of cadences that insist on their key: said twice running to one goal, nothing but the goal between them,
    or begun twice, 2 5 2 5 1. Two cadences establish a key where one only touches it."""
    found: set[int] = set()
    chords = bones.chords
    roots = [chord.root for chord in chords]
    for index in range(len(roots) - 5):
        pair = cells.get(index), cells.get(index + 3)
        if pair[0] and pair[1] and index + 1 in cells and index + 4 in cells and roots[index + 2] == roots[index + 5]:
            found |= {index, index + 1, index + 3, index + 4}
    for index in range(2, len(roots) - 2):
        begun = chords[index - 2].cls in (MIN, HALF) and chords[index - 1].cls in DOMINANTS
        if (
            index in cells
            and index + 1 in cells
            and begun
            and roots[index - 2] == roots[index] == (roots[index - 1] + 7) % 12
        ):
            found |= {index, index + 1}
    return frozenset(found)


def in_sequence(bones: Skeleton, cells: Mapping[int, KeyPc]) -> frozenset[int]:
    """The ii and V of cadences that follow each other in sequence, three or more at one interval: each limb is a key
    as much as the others."""
    found: set[int] = set()
    for index in range(len(bones.chords) - 8):
        if index not in cells:
            continue
        limbs = [cells.get(index + step) for step in (0, 3, 6)]
        if any(limb is None or index + step + 1 not in cells for limb, step in zip(limbs, (0, 3, 6), strict=True)):
            continue
        a, b, c = (limb[0] for limb in limbs if limb is not None)
        if (b - a) % 12 == (c - b) % 12 != 0:
            found |= {index + step + part for step in (0, 3, 6) for part in (0, 1)}
    return frozenset(found)


def confirmed(bones: Skeleton, cells: Mapping[int, KeyPc]) -> frozenset[int]:
    """The ii and V of a minor cadence whose 1 is confirmed by its V again, 2 5 1 5 1 over four bars or more."""
    found: set[int] = set()
    chords = bones.chords
    for index in range(len(chords) - 4):
        two, five, one, again, home = chords[index : index + 5]
        if index not in cells or index + 1 not in cells or two.cls != HALF:
            continue
        comes_back = (again.root, again.cls) == (five.root, five.cls) and (home.root, home.cls) == (one.root, one.cls)
        if comes_back and home.onset + home.duration - two.onset >= _CONFIRMED_BARS * bones.beats:
            found |= {index, index + 1, index + 3}
    return frozenset(found)


_CONFIRMED_BARS = 4.0


def turnarounds(bones: Skeleton) -> dict[int, KeyPc]:
    """The 1 and the 5 of every 1 6 2 5 whose 1 is a major chord, all chords of one length, with the key it goes round in."""
    found: dict[int, KeyPc] = {}
    for index in range(len(bones.chords) - 3):
        run = bones.chords[index : index + 4]
        one, six, two, five = run
        roots = tuple((chord.root - one.root) % 12 for chord in run)
        kinds = one.cls == MAJ and six.cls in (MIN, DOM) and two.cls in (MIN, HALF) and five.cls in (DOM, SUS)
        if roots == (0, 9, 2, 7) and kinds and len({chord.duration for chord in run[:3]}) == 1:
            found[index] = found[index + 3] = (one.root, MAJOR)
    return found
