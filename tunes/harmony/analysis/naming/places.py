"""One chord where it stands: everything that the naming of functions looks at, worked out once.

A `Spot` is what holds in every key, in pitch classes; a `Place` is the same seen from one key, all in semitones
above the local tonic, so that the same place in another key, or in another tune, is the same `Place`.
"""

from __future__ import annotations

from typing import NamedTuple

from tunes.harmony.analysis.home_key.home import MINOR
from tunes.harmony.analysis.key_areas.cadences import KeyPc
from tunes.harmony.analysis.preparation.skeleton import TOP, Skeleton
from tunes.harmony.analysis.relations import BACKDOOR, FIFTH, LEADING, SUPERTONIC, SUPERTONIC_MOVES, TRITONE
from tunes.harmony.analysis.sounds import AUG, DIM, DOM, DOMINANTS, HALF, MAJ, MIN, STABLE, SUS, Stretch

_SOON_AGAIN = {True: 1.75, False: 4.0}
"""After how many bars, at most, a dominant, or any other chord, is heard as taken up again (our choice)."""
_NEAR = 3
_EIGHT_BARS, _EPSILON = 8.0, 0.01
"""A goal that many places on still has the chords before it beside it."""
SURE_ENOUGH = 0.6
"""Only when the grammar is this sure does a chord at rest count as on its way to a goal further off."""


class Neighbour(NamedTuple):
    """A chord near by: its root, in semitones above the local tonic, and its class."""

    root: int
    cls: str


_NEIGHBOURS = {cls: [Neighbour(root, cls) for root in range(12)] for cls in (MAJ, MIN, DOM, HALF, DIM, AUG, SUS)}


class Place(NamedTuple):
    """One chord where it stands: itself, its key, its goal and how it gets there, and the neighbours."""

    degree: int
    cls: str
    quality: str
    mode: str
    move: str
    goal: Neighbour | None
    goal_degree: int
    direct: bool
    before: Neighbour | None
    after: Neighbour | None
    arrived: bool
    ahead: int | None  # what the goal promises, for a ii: semitones above the tonic
    ahead_minor: bool
    ahead_sub: bool  # the goal is a tritone substitute
    ahead_back: bool  # the goal goes home by the back door
    blues: bool
    has_ii: bool
    sure: bool  # of its goal, as the grammar sees it
    sliding: bool  # the first of three chords on 3, flat 3, 2
    neighbour: bool  # between two chords of the same root at rest on the tonic
    after_prepares: bool  # the next chord is the ii of a dominant
    at_home: bool  # the key is that of the tune
    vamp: bool  # one of two chords that go back and forth, the other or itself being the tonic of the key
    again: bool = False  # the same chord comes again before the goal
    then: Neighbour | None = None  # the chord after the goal, when the goal comes next
    joins: bool = False  # the next chord is the goal, or leads to the same goal
    far: bool = False  # three chords or more stand before the goal
    alike: bool = False  # the chords on both sides are the same sound on other roots
    held_through: bool = False  # a diminished chord on its root comes, and then itself again
    exchanged: int | None = None  # what the goal, a dominant, promises itself, where it slips to the substitute of that
    tonic: int = 0  # roots count from it


class Spot(NamedTuple):
    """What `Place` says, as far as it is the same in every key; roots are pitch classes."""

    move: str
    goal: Stretch | None
    direct: bool
    before: Stretch | None
    after: Stretch | None
    arrived: bool
    ahead: int | None
    ahead_minor: bool
    ahead_sub: bool
    back_home: int | None  # where the goal leads by the back door
    has_ii: bool
    sure: bool
    slides: bool  # the first of three minor sounds that fall by semitones
    between: int | None  # the root of the chords at rest on both sides
    after_prepares: bool
    pairs: tuple[tuple[Stretch, Stretch], ...]  # chords that go back and forth here
    again: bool  # the same root and class comes again before the goal, and goes there too
    then: Stretch | None  # the chord after the goal, when the goal comes next
    joins: bool  # the next chord is the goal, or leads to the same goal
    far: bool  # three chords or more stand before the goal
    alike: bool  # the chords on both sides are the same sound on other roots
    held_through: bool  # a diminished chord on its root comes, and then itself again
    exchanged: int | None  # what the goal promises itself, where it slips to the substitute of that


def spot(bones: Skeleton, index: int) -> Spot:
    """A stretch where it stands."""
    chords, moves = bones.chords, bones.moves
    at = bones.goals[index]
    before = chords[index - 1] if index else None
    after = chords[index + 1] if index + 1 < len(chords) else None
    ahead, minor, back = _ahead(bones, at)
    led = index > 0 and bones.goals[index - 1] == index
    return Spot(
        moves[index], bones.goal_chord(index), at == index + 1 or (at == TOP and after is None), before, after,
        led and moves[index - 1] in (FIFTH, TRITONE, LEADING, BACKDOOR), ahead, minor,
        at is not None and at != TOP and moves[at] == TRITONE, back, led and moves[index - 1] in SUPERTONIC_MOVES,
        bones.sure[index] >= SURE_ENOUGH, _slides(bones, index), _between(before, after),
        after is not None and moves[index + 1] in SUPERTONIC_MOVES, _pairs(bones, index), _again(bones, index),
        chords[index + 2] if at == index + 1 and index + 2 < len(chords) else None,
        at is not None and (at == index + 1 or after is None or bones.goals[index + 1] == at), _far(bones, index),
        before is not None and after is not None and before.quality == chords[index].quality == after.quality,
        _held_through(bones, index), _exchanged(bones, at),
    )  # fmt: skip


def place(spot: Spot, chord: Stretch, key: KeyPc, home: KeyPc, blues: bool) -> Place:
    """A spot seen from a key. `chord` may be one event of the stretch, with its own quality."""
    tonic = key[0]
    goal = _from(spot.goal, tonic)
    degree = (chord.root - tonic) % 12
    return Place(
        degree, chord.cls, chord.quality, key[1], spot.move, goal, goal.root if goal else 0, spot.direct,
        _from(spot.before, tonic), _from(spot.after, tonic), spot.arrived,
        None if spot.ahead is None else (spot.ahead - tonic) % 12, spot.ahead_minor, spot.ahead_sub,
        spot.back_home == tonic, blues, spot.has_ii, spot.sure, spot.slides and degree == 4,
        spot.between == tonic, spot.after_prepares, key == home, any(_vamps(pair, key) for pair in spot.pairs),
        spot.again, _from(spot.then, tonic), spot.joins, spot.far, spot.alike, spot.held_through,
        None if spot.exchanged is None else (spot.exchanged - tonic) % 12,
    )  # fmt: skip


def _held_through(bones: Skeleton, index: int) -> bool:
    """Whether a dominant goes through the diminished chord on its root and back to itself."""
    run = bones.chords[index : index + 3]
    if len(run) < 3 or run[0].cls not in DOMINANTS:
        return False
    return run[1].cls == DIM and run[2].cls in DOMINANTS and run[0].root == run[1].root == run[2].root


def _exchanged(bones: Skeleton, goal: int | None) -> int | None:
    """The root that a dominant promises which slips a semitone to the substitute of that chord; None for any other goal."""
    if goal is None or goal == TOP or bones.moves[goal] != TRITONE:
        return None
    further = bones.goals[goal]
    slips_on = further is not None and further != TOP and bones.moves[further] == TRITONE
    return bones.chords[goal].root + 5 if slips_on else None


def _far(bones: Skeleton, index: int) -> bool:
    """Whether a goal comes only after three other chords."""
    goal = bones.goals[index]
    end = len(bones.chords) if goal == TOP else goal
    return end is not None and end - index > _NEAR


def _from(chord: Stretch | None, tonic: int) -> Neighbour | None:
    return None if chord is None else _NEIGHBOURS[chord.cls][(chord.root - tonic) % 12]


def _slides(bones: Skeleton, index: int) -> bool:
    """Whether three chords, all minor in sound, fall by semitones from here."""
    if bones.chords[index].cls != MIN:
        return False
    run = bones.chords[index : index + 3]
    if len(run) < 3 or run[2].cls != MIN or run[1].cls not in (MIN, DIM):
        return False
    return (run[0].root - run[1].root) % 12 == (run[1].root - run[2].root) % 12 == 1


def _between(before: Stretch | None, after: Stretch | None) -> int | None:
    """The root of the same chord at rest on both sides."""
    if before is None or after is None or (before.root, before.cls) != (after.root, after.cls):
        return None
    return before.root if before.cls in STABLE else None


def _again(bones: Skeleton, index: int) -> bool:
    """Whether the same chord stands between a chord and its goal, soon enough to be heard as taken up, and before the tune is
    home; one that only turns minor is never off the ear."""
    goal = bones.goals[index]
    end = len(bones.chords) if goal == TOP else goal if goal is not None and goal > index else index
    here = bones.chords[index]
    brief = here.cls in DOMINANTS and not _back_to_its_two(bones, index)
    last = here.onset + here.duration + _SOON_AGAIN[brief] * bones.beats
    if climbs_through(bones, index):
        return False
    turns = index + 1 < len(bones.chords) and bones.chords[index + 1].root == here.root
    for at in range(index + 1, end):
        chord = bones.chords[at]
        if _landed(bones, at) or not (turns or chord.onset <= last):
            return False
        if (chord.root, chord.cls) == (here.root, here.cls):
            return True
    return False


def _landed(bones: Skeleton, at: int) -> bool:
    """Whether the music is at rest: on the home tonic, or for a bar on a chord to which its own 2 and 5 have led."""
    chord = bones.chords[at]
    if bones.goals[at] is not None or chord.cls not in STABLE:
        return False
    by_two_five = at > 1 and bones.goals[at - 1] == at and bones.goals[at - 2] == at - 1
    led = by_two_five and bones.moves[at - 1] == FIFTH and bones.moves[at - 2] == SUPERTONIC
    return chord.root == bones.home[0] or (led and chord.duration >= bones.beats)


def _back_to_its_two(bones: Skeleton, index: int) -> bool:
    """Whether a dominant goes back to its own 2, which prolongs it."""
    after = bones.chords[index + 1 : index + 2]
    return bool(after) and after[0].cls in (MIN, HALF) and (bones.chords[index].root - after[0].root) % 12 == 5


def climbs_through(bones: Skeleton, index: int) -> bool:
    """Whether a chord rises a whole step through the diminished chord between."""
    run = bones.chords[index : index + 3]
    if len(run) < 3 or run[1].cls != DIM:
        return False
    return (run[1].root - run[0].root) % 12 == (run[2].root - run[1].root) % 12 == 1


def _pairs(bones: Skeleton, index: int) -> tuple[tuple[Stretch, Stretch], ...]:
    """Two chords that alternate here at least twice each, in the order of every run of four that shows them; not where the last of
    the four opens another eight bars and goes elsewhere."""
    chords = bones.chords
    found: list[tuple[Stretch, Stretch]] = []
    for start in range(max(0, index - 3), min(index, len(chords) - 4) + 1):
        a, b = chords[start], chords[start + 1]
        alternate = a.root != b.root and _same(a, chords[start + 2]) and _same(b, chords[start + 3])
        if alternate and not _sets_out_anew(bones, start + 3, a):
            found.append((a, b))
    return tuple(found)


def _sets_out_anew(bones: Skeleton, index: int, other: Stretch) -> bool:
    """Whether a chord opens eight bars and does not go to `other`."""
    after = bones.chords[index + 1 : index + 2]
    opens = bones.chords[index].onset / bones.beats % _EIGHT_BARS < _EPSILON
    return opens and bool(after) and not _same(after[0], other)


def _same(a: Stretch, b: Stretch) -> bool:
    return a.root == b.root and a.cls == b.cls


def _vamps(pair: tuple[Stretch, Stretch], key: KeyPc) -> bool:
    """Whether one of the two is the tonic, in its own mode or as a seventh with the major chord a tone below."""
    return any(_is_tonic(chord, key) for chord in pair) or _mixolydian(pair, key) or _one_four(pair, key)


def _one_four(pair: tuple[Stretch, Stretch], key: KeyPc) -> bool:
    """Whether a pair is 1 and 4, both with a flat 7."""
    sounds = {((chord.root - key[0]) % 12, chord.cls) for chord in pair}
    return sounds == {(0, DOM), (5, DOM)} and key[1] != MINOR


def _mixolydian(pair: tuple[Stretch, Stretch], key: KeyPc) -> bool:
    """Whether a pair is 1 with its flat 7 and the major chord a tone below."""
    one, other = pair if pair[0].root == key[0] else (pair[1], pair[0])
    return one.root == key[0] and one.cls == DOM and other.cls == MAJ and (other.root - one.root) % 12 == 10


def _is_tonic(chord: Stretch, key: KeyPc) -> bool:
    return chord.root == key[0] and chord.cls == (MIN if key[1] == MINOR else MAJ)


def _ahead(bones: Skeleton, goal: int | None) -> tuple[int | None, bool, int | None]:
    """Where the goal, a dominant, leads: its own goal, or the root a fifth below that it promises; and where by the
    back door."""
    if goal is None or goal == TOP or bones.chords[goal].cls not in DOMINANTS:
        return None, False, None
    chord, further = bones.chords[goal], bones.goal_chord(goal)
    move = bones.moves[goal]
    if further is not None and move in (FIFTH, TRITONE):
        return further.root, further.cls in (MIN, HALF), None
    return chord.root + 5, False, further.root if further is not None and move == BACKDOOR else None
