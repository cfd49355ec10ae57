"""Key areas: the form cut into stretches of one key by dynamic programming.

Choi (*Jazz Harmonic Analysis as Optimal Tonality Segmentation*, Computer Music Journal 35/2, 2011) finds the
cheapest division of a chorus into keys.  Here a chord costs little in a key it belongs to; a dominant, and the
ii before it, cost much in a key that does not hold the chord they lead to; and every change of key costs
something.  So ``A7 Dm7`` stays in C as V7/ii, while ii–V–I to a chord outside the key opens an area of its own.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence

from tunes.harmony.analysis.home_key.home import MAJOR, MINOR
from tunes.harmony.analysis.key_areas.cadences import (
    KeyPc,
    key_of,
)
from tunes.harmony.analysis.key_areas.evidence import SPLIT_MOVES, Clues, clues_of, fills_a_section, pivots
from tunes.harmony.analysis.key_areas.tables import (
    COST_CHANGE,
    COST_GLANCE,
    COST_OTHER_MODE,
    COST_SPLIT,
)  # fmt: skip
from tunes.harmony.analysis.key_areas.weighing import costs, holds, mode_cost
from tunes.harmony.analysis.preparation.skeleton import Skeleton
from tunes.harmony.analysis.relations import SUPERTONIC_MOVES
from tunes.harmony.analysis.sounds import STABLE

_EVEN = 1e-9  # ways that cost the same: a chord stays in the key before it until something speaks for the next


def candidates(bones: Skeleton, clues: Clues) -> list[KeyPc]:
    """Home first, then every key that something leads to, goes round in, or that one chord is the centre of, in order of
    appearance."""
    found = (
        clues.served[index]
        or clues.rounds.get(index)
        or (key_of(chord) if index in clues.settled or fills_a_section(bones, index) else None)
        for index, chord in enumerate(bones.chords)
    )
    at_rest = (
        index
        for index, chord in enumerate(bones.chords)
        if chord.cls in STABLE and bones.moves[index] not in SUPERTONIC_MOVES
    )
    other = bones.home[0], MAJOR if bones.home[1] == MINOR else MINOR
    modes = [other] if any(mode_cost(bones, index, bones.home) == COST_OTHER_MODE for index in at_rest) else []
    return list(dict.fromkeys([bones.home, *(key for key in found if key is not None), *modes]))


def segment(
    bones: Skeleton, held: Mapping[int, KeyPc] | None = None
) -> tuple[list[KeyPc], list[list[tuple[float, KeyPc]]]]:
    """The key of every stretch, and for every stretch the keys with what they would cost more in all, cheapest
    first.  `held` fixes keys by stretch."""
    clues = clues_of(bones)
    keys = candidates(bones, clues)
    for key in (held or {}).values():
        if key not in keys:
            keys.append(key)
    table = costs(bones, keys, clues)
    for index, fixed in (held or {}).items():
        table[index] = [0.0 if key == fixed else 1000.0 for key in keys]
    change = _change_costs(bones)
    forward, choices = _sweep(table, change)
    backward = _sweep(table[::-1], change[::-1])[0][::-1]
    best = min(range(len(keys)), key=lambda k: (forward[-1][k] + _closing(k), k))
    path = [best]
    for step in reversed(choices):
        path.append(step[path[-1]])
    path.reverse()
    chosen, path = path, _without_glances(bones, keys, path, frozenset(held or ()), clues.cells)
    totals = [[f + b - c for f, b, c in zip(*rows, strict=True)] for rows in zip(forward, backward, table, strict=True)]
    ranked = [
        _ranked(keys, total, k, 0.0 if k == first else COST_GLANCE)
        for total, k, first in zip(totals, path, chosen, strict=True)
    ]
    return [keys[k] for k in path], ranked


def _without_glances(
    bones: Skeleton, keys: Sequence[KeyPc], path: list[int], held: frozenset[int], cells: Mapping[int, KeyPc]
) -> list[int]:
    """The keys without those that are only glanced at: an area that stands between two of one key, rests for less than
    a bar, and has no ii before its dominant or a goal that belongs to the home key around it."""
    out = list(path)
    runs = [list(group) for _, group in itertools.groupby(range(len(path)), key=path.__getitem__)]
    for before, here, after in zip(runs, runs[1:], runs[2:], strict=False):
        around, key = keys[path[before[0]]], keys[path[here[0]]]
        rest = sum(
            bones.chords[index].duration for index in here if bones.chords[index].cls in STABLE and index not in cells
        )
        loose = not any(cells.get(index) == key for index in here) or (around == bones.home and holds(around, key))
        if path[before[0]] == path[after[0]] and rest < bones.beats and loose and not held & {*here}:
            for index in here:
                out[index] = path[before[0]]
    return out


def _closing(k: int) -> float:
    """A chorus that ends away from home comes back to it."""
    return 0.0 if k == 0 else COST_CHANGE / 2


def _change_costs(bones: Skeleton) -> list[float]:
    """What a change of key costs before each stretch but the first: more between a dominant and its goal."""
    return [
        COST_CHANGE + (COST_SPLIT if _holds_together(bones, index) else 0.0) for index in range(len(bones.chords) - 1)
    ]


def _holds_together(bones: Skeleton, index: int) -> bool:
    """Whether a dominant, or its ii, leads to the next chord; a dominant does not where that chord comes as a new ii: it is the
    pivot, and the key changes with it."""
    if bones.goals[index] != index + 1 or bones.moves[index] not in SPLIT_MOVES:
        return False
    return not pivots(bones, index)


def _sweep(table: list[list[float]], change: Sequence[float]) -> tuple[list[list[float]], list[list[int]]]:
    """Cheapest cost of reaching each key at each stretch, and where it came from."""
    sums = [[cost + _closing(k) for k, cost in enumerate(table[0])]]
    choices: list[list[int]] = []
    for row, cost_here in zip(table[1:], change, strict=True):
        before = sums[-1]
        least = min(before)
        low, enter = before.index(least), least + cost_here
        choices.append([k if stay < enter - _EVEN else low for k, stay in enumerate(before)])
        sums.append([(stay if stay < enter else enter) + cost for stay, cost in zip(before, row, strict=True)])
    return sums, choices


def _ranked(keys: Sequence[KeyPc], total: Sequence[float], chosen: int, more: float) -> list[tuple[float, KeyPc]]:
    """The chosen key, then the others with what they cost more: the one only glanced at at least `more`."""
    base = total[chosen] - more
    others = sorted((cost, k) for k, cost in enumerate(total) if k != chosen)
    return [(0.0, keys[chosen]), *((max(more, cost - base), keys[k]) for cost, k in others)]
