"""Key areas: the form cut into stretches of one key by dynamic programming.

Choi (*Jazz Harmonic Analysis as Optimal Tonality Segmentation*, Computer Music Journal 35/2, 2011) finds the
cheapest division of a chorus into keys.  Here a chord costs little in a key it belongs to; a dominant, and the
ii before it, cost much in a key that does not hold the chord they lead to; and every change of key costs
something.  So ``A7 Dm7`` stays in C as V7/ii, while ii–V–I to a chord outside the key opens an area of its own.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from tunes.harmony.analysis.home_key.home import MAJOR, MINOR
from tunes.harmony.analysis.key_areas.cadences import (
    KeyPc,
    cadence_cells,
    confirmed,
    in_sequence,
    insisted,
    key_of,
    turnarounds,
)
from tunes.harmony.analysis.key_areas.tables import (
    BORROWED,
    COST_AIM,
    COST_APPLIED,
    COST_AWAY,
    COST_CHANGE,
    COST_DOMINANT,
    COST_FIRM,
    COST_FOREIGN,
    COST_FOREIGN_REST,
    COST_GLANCE,
    COST_HALF_CADENCE,
    COST_HOME_CADENCE,
    COST_HOME_LEFT,
    COST_LANDED,
    COST_LOOSE_CADENCE,
    COST_OPENING,
    COST_OTHER_MODE,
    COST_OTHER_MODE_BRIEF,
    COST_OTHER_RUN,
    COST_ROUND,
    COST_SECTION,
    COST_SETTLED,
    COST_SPLIT,
    COST_TONIC_SOUND,
    DIATONIC,
    LOOSE_REST,
    MOST_BARS,
    REST_DEGREES,
    SECTION_BARS,
    TONIC_SOUNDS,
    chord_cost,
)  # fmt: skip
from tunes.harmony.analysis.preparation.skeleton import TOP, Skeleton
from tunes.harmony.analysis.relations import DOMINANT_MOVES, SUPERTONIC_MOVES, TRITONE
from tunes.harmony.analysis.sounds import DOM, DOMINANTS, HALF, MAJ, MIN, STABLE, SUS, Stretch

SPLIT_MOVES = DOMINANT_MOVES | SUPERTONIC_MOVES
_EVEN = 1e-9  # ways that cost the same: a chord stays in the key before it until something speaks for the next


def served_key(bones: Skeleton, index: int) -> KeyPc | None:
    """The key of the chord at rest that a dominant, or a ii through its dominant, leads to; else None."""
    if bones.moves[index] in SUPERTONIC_MOVES:
        goal = bones.goals[index]
        return served_key(bones, goal) if goal is not None and goal != TOP else None
    chord = bones.goal_chord(index)
    if chord is None or bones.moves[index] not in DOMINANT_MOVES:
        return None
    if chord.cls not in STABLE:
        at_home = (
            chord.cls == SUS and chord.root == bones.home[0] and bones.goals[max(bones.goals[index] or 0, 0)] is None
        )
        return bones.home if at_home else None
    return None if _moves_on_as_two(bones, index) else key_of(chord)


def _moves_on_as_two(bones: Skeleton, index: int) -> bool:
    """Whether the goal is a minor chord that is at once somebody's ii: it is no place of rest."""
    goal = bones.goals[index]
    if goal is None or goal == TOP or bones.chords[goal].cls != MIN or bones.moves[goal] not in SUPERTONIC_MOVES:
        return False
    return bones.chords[goal].duration <= bones.beats


def run_ends(bones: Skeleton) -> list[KeyPc | None]:
    """For every stretch of a run of dominants and their iis, the key of the chord at rest on which the run ends."""
    found: list[KeyPc | None] = [None] * len(bones.chords)
    for index in range(len(bones.chords) - 1, -1, -1):
        goal = bones.goals[index]
        if goal is None or bones.moves[index] not in SPLIT_MOVES:
            continue
        if goal == TOP:
            found[index] = key_of(bones.chords[0])
        elif goal > index:
            at = bones.chords[goal]
            found[index] = found[goal] if bones.moves[goal] in SPLIT_MOVES else key_of(at) if at.cls in STABLE else None
    return found


def _ends_elsewhere(end: KeyPc | None, key: KeyPc, home: KeyPc) -> bool:
    """Whether a run ends on another tonic; one that ends on a member of the home key does not leave it."""
    return end is not None and end[0] != key[0] and not (key == home and _holds(home, end))


def tonicised(bones: Skeleton) -> frozenset[int]:
    """The stretches at rest that some dominant leads to."""
    return frozenset(
        goal
        for index, goal in enumerate(bones.goals)
        if goal is not None and goal != TOP and bones.moves[index] in DOMINANT_MOVES
        and bones.chords[goal].cls in STABLE
    )  # fmt: skip


def settled(bones: Skeleton) -> frozenset[int]:
    """The chords that are a centre of their own: a minor triad or sixth held for three bars, to which its dominant has led, and a
    major seventh of two bars that turns into the 2 of the key a tone below, as keys that fall by tones do."""
    found: set[int] = set()
    chords, tonic = bones.chords, bones.home[0]
    of_home = (
        {0, 5} if bones.home[1] == MINOR else {0, 2}
    )  # its own 1, 2 and 4 minor are nothing new when they are held
    for index in range(1, len(chords) - 1):
        chord, before, degree = chords[index], chords[index - 1], (chords[index].root - tonic) % 12
        led = before.cls in DOMINANTS and bones.goals[index - 1] == index and bones.moves[index - 1] in DOMINANT_MOVES
        held = chord.quality in ("m", *TONIC_SOUNDS) and chord.duration >= _CENTRE_BARS * bones.beats
        if led and held and degree not in of_home:
            found.add(index)
        if (led or degree not in (0, 5)) and _falls_by_tone(bones, index):
            found.add(index)
    return frozenset(found)


def _falls_by_tone(bones: Skeleton, index: int) -> bool:
    """Whether a major seventh or sixth of two bars turns minor and goes on by its 5 to the major chord a tone below."""
    chord, run = bones.chords[index], bones.chords[index + 1 : index + 4]
    steps = [((other.root - chord.root) % 12, other.cls) for other in run]
    long = chord.quality in ("maj7", "6") and chord.duration >= _TURNING_BARS * bones.beats
    return long and steps == [(0, MIN), (5, DOM), (10, MAJ)]


_CENTRE_BARS, _TURNING_BARS = 3.0, 2.0


class _Clues(NamedTuple):
    """What the chords say of keys before any is weighed; lists are by stretch."""

    cells: dict[int, KeyPc]
    served: list[KeyPc | None]
    rests: frozenset[int]
    own: frozenset[int]  # the ii and V of cadences that make a key of their own
    ends: list[KeyPc | None]
    rounds: dict[int, KeyPc]  # the 1 and the 5 of turnarounds
    settled: frozenset[int]  # chords that are a centre of their own, whatever they go on to


def _clues(bones: Skeleton) -> _Clues:
    cells = cadence_cells(bones)
    served = [cells.get(index) or served_key(bones, index) for index in range(len(bones.chords))]
    own = insisted(bones, cells) | in_sequence(bones, cells) | confirmed(bones, cells)
    return _Clues(cells, served, tonicised(bones), own, run_ends(bones), turnarounds(bones), settled(bones))


def candidates(bones: Skeleton, clues: _Clues) -> list[KeyPc]:
    """Home first, then every key that something leads to, goes round in, or that one chord is the centre of, in order of
    appearance."""
    found = (
        clues.served[index]
        or clues.rounds.get(index)
        or (key_of(chord) if index in clues.settled or _fills_a_section(bones, index) else None)
        for index, chord in enumerate(bones.chords)
    )
    at_rest = (
        index
        for index, chord in enumerate(bones.chords)
        if chord.cls in STABLE and bones.moves[index] not in SUPERTONIC_MOVES
    )
    other = bones.home[0], MAJOR if bones.home[1] == MINOR else MINOR
    modes = [other] if any(_mode_cost(bones, index, bones.home) == COST_OTHER_MODE for index in at_rest) else []
    return list(dict.fromkeys([bones.home, *(key for key in found if key is not None), *modes]))


def _fills_a_section(bones: Skeleton, index: int) -> bool:
    """Whether one minor chord is held so long that it is a centre of its own, as in a modal bridge."""
    chord = bones.chords[index]
    return chord.cls == MIN and chord.duration >= SECTION_BARS * bones.beats


def costs(bones: Skeleton, keys: Sequence[KeyPc], clues: _Clues) -> list[list[float]]:
    """What each stretch costs in each key."""
    return [
        [sum(parts) for parts in zip(*_costs_of(bones, index, keys, clues), strict=True)]
        for index in range(len(bones.chords))
    ]


def _costs_of(bones: Skeleton, index: int, keys: Sequence[KeyPc], clues: _Clues) -> Iterator[list[float]]:
    """All that a stretch costs in each of the keys; what does not come into question for it is left out."""
    chord, served, home = bones.chords[index], clues.served[index], bones.home
    bars, whole = min(chord.duration / bones.beats, MOST_BARS), index in clues.cells
    as_two = bones.moves[index] in SUPERTONIC_MOVES
    if chord.cls != SUS or bones.goals[index] is not None:  # suspended for colour, it belongs to one key as to another
        yield [bars * _chord_cost(chord, key, as_two) for key in keys]
    if served is not None:
        yield [_serving_cost(served, key, home, whole, index in clues.own) for key in keys]
    if index in clues.rests:
        yield [_rest_cost(chord, key) for key in keys]
    if bones.goals[index] is None:
        yield [COST_HOME_LEFT if key[0] != chord.root else 0.0 for key in keys]
    if _fills_a_section(bones, index):
        yield [0.0 if key == key_of(chord) or _holds(key, key_of(chord)) else COST_SECTION for key in keys]
    if not index and chord.root == home[0] and chord.cls in STABLE:
        yield [COST_OPENING if key[0] != chord.root else 0.0 for key in keys]
    if index in clues.settled:
        yield [0.0 if key == key_of(chord) else COST_SETTLED for key in keys]
    if index in clues.rounds:
        yield [0.0 if key[0] == clues.rounds[index][0] else COST_ROUND for key in keys]
    if chord.quality == "maj7":
        yield [0.0 if _firm(chord, key) else bars * COST_FIRM for key in keys]
    if chord.cls == DOM and clues.ends[index] is None and bones.moves[index] != TRITONE:
        yield [0.0 if _aims_inside(chord, key) else bars * COST_AIM for key in keys]
    if _half_cadence(bones, index):
        yield [0.0 if key == home else COST_HALF_CADENCE for key in keys]
    if chord.quality in TONIC_SOUNDS:
        yield [COST_TONIC_SOUND if (chord.root - key[0]) % 12 not in (0, 5) else 0.0 for key in keys]
    if chord.cls in STABLE and not as_two:
        yield [_mode_cost(bones, index, key) for key in keys]
    if index in clues.rests and chord.duration > bones.beats and as_two:
        yield [COST_LANDED if key[0] != chord.root else 0.0 for key in keys]
    if clues.ends[index] is not None:
        yield [COST_OTHER_RUN if _ends_elsewhere(clues.ends[index], key, home) else 0.0 for key in keys]
    if served == home and _comes_home(bones, index, whole):
        yield [COST_HOME_CADENCE if key != home else 0.0 for key in keys]
    yield [0.0 if key == home else COST_AWAY * bars for key in keys]


def _firm(chord: Stretch, key: KeyPc) -> bool:
    """Whether a major seventh is a chord of a key, or borrowed: on 5 it is not, its seventh is the raised 4."""
    degree = (chord.root - key[0]) % 12
    return degree != 7 and ((degree, MAJ) in DIATONIC[key[1]] or (degree, MAJ) in BORROWED[key[1]])


def _aims_inside(chord: Stretch, key: KeyPc) -> bool:
    """Whether a dominant is a member of a key, stands for its 5, or points at a chord that may rest in it."""
    degree, aim = (chord.root - key[0]) % 12, (chord.root + 5 - key[0]) % 12
    member = degree == 1 or (degree, DOM) in DIATONIC[key[1]] or (degree, DOM) in BORROWED[key[1]]
    return member or any((aim, cls) in REST_DEGREES[key[1]] for cls in (MAJ, MIN))


def _half_cadence(bones: Skeleton, index: int) -> bool:
    """Whether the 5 of home ends eight bars and the next eight begin without its 1: a half cadence."""
    chord, goal = bones.chords[index], bones.goals[index]
    end = (chord.onset + chord.duration) / bones.beats
    on_five = chord.cls in (DOM, SUS) and (chord.root - bones.home[0]) % 12 == 7
    return on_five and end % 8 < 0.01 and (goal is None or goal != index + 1) and index + 1 < len(bones.chords)


def _chord_cost(chord: Stretch, key: KeyPc, as_two: bool) -> float:
    """What a bar of a chord costs; the ii of a dominant is read by its goal, as the dominant is."""
    cost = chord_cost((chord.root - key[0]) % 12, chord.cls, key[1])
    return min(cost, COST_DOMINANT) if as_two else cost


def _mode_cost(bones: Skeleton, index: int, key: KeyPc) -> float:
    """For a chord at rest: the tonic held for two bars or more in the other mode speaks for a section in that mode, a
    shorter one for staying in it; the last tonic of a chorus only colours its end."""
    chords = bones.chords
    chord, before = chords[index], chords[index - 1] if index else None
    if chord.root != key[0] or key_of(chord) == key or index == bones.last_tonic:
        return 0.0
    if before is not None and before.root == chord.root:
        return 0.0
    run = itertools.takewhile(lambda later: later.root == chord.root and later.cls != HALF, chords[index:])
    held = sum(later.duration for later in run if later.cls == chord.cls or later.cls in DOMINANTS)
    section = held >= 2 * bones.beats or _among_its_own(bones, index)
    return COST_OTHER_MODE if section else COST_OTHER_MODE_BRIEF


def _among_its_own(bones: Skeleton, index: int) -> bool:
    """Whether a tonic of the other mode stands in a run of four bars or more that belongs to its own key, and none of whose chords
    is of the home mode alone."""
    chords, key = bones.chords, key_of(bones.chords[index])

    def own(chord: Stretch) -> bool:
        return ((chord.root - key[0]) % 12, chord.cls) in DIATONIC[key[1]]

    first = next((at + 1 for at in range(index - 1, -1, -1) if not own(chords[at])), 0)
    last = next((at - 1 for at in range(index + 1, len(chords)) if not own(chords[at])), len(chords) - 1)
    run = chords[first : last + 1]
    only = [chord for chord in run if ((chord.root - key[0]) % 12, chord.cls) not in DIATONIC[bones.home[1]]]
    bars = sum(chord.duration for chord in run) / bones.beats
    return bars >= _SECTION_OF_MODE and len(only) >= _LEAST_OF_MODE


_SECTION_OF_MODE, _LEAST_OF_MODE = 4.0, 4


def _comes_home(bones: Skeleton, index: int, whole: bool) -> bool:
    """Whether a dominant, or the ii before it, comes to the home tonic by a whole cadence or at the turn of the form."""
    goal = bones.goals[index]
    if goal is not None and goal != TOP and bones.moves[index] in SUPERTONIC_MOVES:
        goal = bones.goals[goal]
    return whole or goal == TOP


def _serving_cost(served: KeyPc | None, key: KeyPc, home: KeyPc, whole: bool, own: bool) -> float:
    """A goal that belongs to the key asked about and to home, in either mode, is applied; any other is foreign.
    A whole ii–V–I to one of the looser members of the key, or one of several that insist, costs more than a lone dominant."""
    if served is None or served == key:
        return 0.0
    if own and served[0] != key[0]:
        return COST_LOOSE_CADENCE
    if whole and ((served[0] - key[0]) % 12, MIN if served[1] == MINOR else MAJ) in LOOSE_REST[key[1]]:
        return COST_LOOSE_CADENCE
    at_home = key[0] == home[0] or _holds(home, served)
    return COST_APPLIED if at_home and _holds(key, served) else COST_FOREIGN


def _holds(key: KeyPc, other: KeyPc) -> bool:
    cls = MIN if other[1] == MINOR else MAJ
    return ((other[0] - key[0]) % 12, cls) in REST_DEGREES[key[1]]


def _rest_cost(chord: Stretch, key: KeyPc) -> float:
    if key_of(chord) == key or chord.cls in DOMINANTS:
        return 0.0
    return 0.0 if ((chord.root - key[0]) % 12, chord.cls) in REST_DEGREES[key[1]] else COST_FOREIGN_REST


def segment(
    bones: Skeleton, held: Mapping[int, KeyPc] | None = None
) -> tuple[list[KeyPc], list[list[tuple[float, KeyPc]]]]:
    """The key of every stretch, and for every stretch the keys with what they would cost more in all, cheapest
    first.  `held` fixes keys by stretch."""
    clues = _clues(bones)
    keys = candidates(bones, clues)
    for key in (held or {}).values():
        if key not in keys:
            keys.append(key)
    table = costs(bones, keys, clues)
    for index, fixed in (held or {}).items():
        table[index] = [0.0 if key == fixed else 1000.0 for key in keys]
    change = _change_costs(bones, clues.rounds)
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
        loose = not any(cells.get(index) == key for index in here) or (around == bones.home and _holds(around, key))
        if path[before[0]] == path[after[0]] and rest < bones.beats and loose and not held & {*here}:
            for index in here:
                out[index] = path[before[0]]
    return out


def _closing(k: int) -> float:
    """A chorus that ends away from home comes back to it."""
    return 0.0 if k == 0 else COST_CHANGE / 2


def _change_costs(bones: Skeleton, rounds: Mapping[int, KeyPc]) -> list[float]:
    """What a change of key costs before each stretch but the first: more between a dominant and its goal."""
    return [
        COST_CHANGE + (COST_SPLIT if _holds_together(bones, index, rounds) else 0.0)
        for index in range(len(bones.chords) - 1)
    ]


def _holds_together(bones: Skeleton, index: int, rounds: Mapping[int, KeyPc]) -> bool:
    """Whether a dominant, or its ii, leads to the next chord; the 5 of a turnaround does not where 1 comes as a new ii."""
    if bones.goals[index] != index + 1 or bones.moves[index] not in SPLIT_MOVES:
        return False
    return not (index in rounds and _moves_on_as_two(bones, index))


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
