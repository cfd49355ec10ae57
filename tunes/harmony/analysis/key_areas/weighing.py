"""What a stretch costs in a key. The amounts are in `tables`."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from tunes.harmony.analysis.home_key.home import MINOR
from tunes.harmony.analysis.key_areas.cadences import (
    KeyPc,
    key_of,
)
from tunes.harmony.analysis.key_areas.evidence import Clues, fills_a_section, pivots
from tunes.harmony.analysis.key_areas.tables import (
    BORROWED,
    COST_AIM,
    COST_APPLIED,
    COST_ASIDE,
    COST_AWAY,
    COST_DOMINANT,
    COST_FIRM,
    COST_FOREIGN,
    COST_FOREIGN_REST,
    COST_HALF_CADENCE,
    COST_HOME_CADENCE,
    COST_HOME_FIFTH,
    COST_HOME_LEFT,
    COST_LANDED,
    COST_LOOSE_CADENCE,
    COST_OPENING,
    COST_OTHER_MODE,
    COST_OTHER_MODE_BRIEF,
    COST_OTHER_RUN,
    COST_PLAGAL,
    COST_ROUND,
    COST_SECTION,
    COST_SETTLED,
    COST_STRANGER,
    COST_TONIC_SOUND,
    DIATONIC,
    LOOSE_REST,
    MOST_BARS,
    REST_DEGREES,
    TONIC_SOUNDS,
    chord_cost,
)  # fmt: skip
from tunes.harmony.analysis.preparation.skeleton import TOP, Skeleton
from tunes.harmony.analysis.relations import SUPERTONIC_MOVES, TRITONE
from tunes.harmony.analysis.sounds import DOM, DOMINANTS, HALF, MAJ, MIN, STABLE, SUS, Stretch


def _ends_elsewhere(end: KeyPc | None, key: KeyPc, home: KeyPc) -> bool:
    """Whether a run ends on another tonic; one that ends on a member of the home key does not leave it."""
    return end is not None and end[0] != key[0] and not (key == home and holds(home, end))


def costs(bones: Skeleton, keys: Sequence[KeyPc], clues: Clues) -> list[list[float]]:
    """What each stretch costs in each key."""
    return [
        list(map(sum, zip(*_costs_of(bones, index, keys, clues), strict=True))) for index in range(len(bones.chords))
    ]


def _costs_of(bones: Skeleton, index: int, keys: Sequence[KeyPc], clues: Clues) -> Iterator[list[float]]:
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
        yield [_left_cost(chord, key, home) for key in keys]
    if fills_a_section(bones, index):
        yield [0.0 if key == key_of(chord) or holds(key, key_of(chord)) else COST_SECTION for key in keys]
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
    if _plagal(bones, index):
        yield [COST_PLAGAL if key[0] != chord.root else 0.0 for key in keys]
    if chord.quality in TONIC_SOUNDS:
        yield [COST_TONIC_SOUND if (chord.root - key[0]) % 12 not in (0, 5) else 0.0 for key in keys]
    if chord.cls in STABLE and not as_two:
        yield [mode_cost(bones, index, key) for key in keys]
    if index in clues.rests and chord.duration > bones.beats and as_two:
        yield [COST_LANDED if key[0] != chord.root else 0.0 for key in keys]
    if clues.ends[index] is not None:
        yield [COST_OTHER_RUN if _ends_elsewhere(clues.ends[index], key, home) else 0.0 for key in keys]
    if served == home and _comes_home(bones, index, whole):
        yield [COST_HOME_CADENCE if key != home else 0.0 for key in keys]
    elif served is not None and served[0] == home[0] and whole:  # the same in the other mode
        yield [COST_HOME_CADENCE if key[0] != home[0] else 0.0 for key in keys]
    elif served == home:
        yield [COST_HOME_FIFTH if key[0] != home[0] else 0.0 for key in keys]
    if pivots(bones, index):
        goal = bones.chords[bones.goals[index] or 0]
        yield [0.0 if ((goal.root - key[0]) % 12, goal.cls) in DIATONIC[key[1]] else COST_ASIDE for key in keys]
    yield [0.0 if key == home else COST_AWAY * bars for key in keys]


def _left_cost(chord: Stretch, key: KeyPc, home: KeyPc) -> float:
    """The home tonic at rest, read in another key; more where that key has no such chord."""
    if key[0] == chord.root:
        return 0.0
    degree = (chord.root - key[0]) % 12, chord.cls
    stranger = chord.quality in ("maj7", "6") and degree not in DIATONIC[key[1]] | BORROWED[key[1]]
    return COST_HOME_LEFT + (COST_STRANGER if stranger and key_of(chord) == home else 0.0)


def _firm(chord: Stretch, key: KeyPc) -> bool:
    """Whether a major seventh is a chord of a key, or borrowed: on 5 it is not, its seventh is the raised 4."""
    degree = (chord.root - key[0]) % 12
    return degree != 7 and ((degree, MAJ) in DIATONIC[key[1]] or (degree, MAJ) in BORROWED[key[1]])


def _aims_inside(chord: Stretch, key: KeyPc) -> bool:
    """Whether a dominant is a member of a key, stands for its 5, or points at a chord that may rest in it."""
    degree, aim = (chord.root - key[0]) % 12, (chord.root + 5 - key[0]) % 12
    member = degree == 1 or (degree, DOM) in DIATONIC[key[1]] or (degree, DOM) in BORROWED[key[1]]
    return member or any((aim, cls) in REST_DEGREES[key[1]] for cls in (MAJ, MIN))


def _plagal(bones: Skeleton, index: int) -> bool:
    """Whether a major chord comes from its minor 4 with the sixth, and rests."""
    before, chord = bones.chords[index - 1], bones.chords[index]
    return bool(index) and chord.cls == MAJ and before.quality == "m6" and (chord.root - before.root) % 12 == 7


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


def mode_cost(bones: Skeleton, index: int, key: KeyPc) -> float:
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
    at_home = key[0] == home[0] or holds(home, served)
    return COST_APPLIED if at_home and holds(key, served) else COST_FOREIGN


def holds(key: KeyPc, other: KeyPc) -> bool:
    cls = MIN if other[1] == MINOR else MAJ
    return ((other[0] - key[0]) % 12, cls) in REST_DEGREES[key[1]]


def _rest_cost(chord: Stretch, key: KeyPc) -> float:
    if key_of(chord) == key or chord.cls in DOMINANTS:
        return 0.0
    return 0.0 if ((chord.root - key[0]) % 12, chord.cls) in REST_DEGREES[key[1]] else COST_FOREIGN_REST
