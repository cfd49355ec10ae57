"""What hangs on the home key or on how sure the grammar is, and so cannot be one of its `constraints`: goals corrected afterwards.

Each is a pass of its own, a pure function from skeleton to skeleton; `analysis.pipeline` states their order.
"""

from __future__ import annotations

from collections.abc import Sequence

from tunes.harmony.analysis.home_key.home import MINOR
from tunes.harmony.analysis.preparation.skeleton import TOP, Skeleton
from tunes.harmony.analysis.relations import BACKDOOR, DOMINANT_MOVES, FIFTH, OTHER, PLAGAL, SUPERTONIC, TRITONE
from tunes.harmony.analysis.sounds import DOM, HALF, MAJ, MIN, STABLE, SUS, Stretch

_MANY = 4
"""Chords to a goal that a dominant does not reach while it can slip (our choice)."""
_UNSURE = 0.6
"""A choice of goal that is no surer than this is open."""


def back_door_to_a_seventh(bones: Skeleton) -> Skeleton:
    """The dominant on flat 7 before the home tonic as a seventh has come home by the back door, as before any other tonic."""
    chords, goals, moves = bones.chords, list(bones.goals), list(bones.moves)
    for index in range(len(chords) - 1):
        chord, after = chords[index], chords[index + 1]
        if (
            chord.cls in (DOM, SUS)
            and after.cls in (DOM, SUS)
            and after.root == bones.home[0]
            and (after.root - chord.root) % 12 == 2
        ):
            goals[index], moves[index] = index + 1, BACKDOOR
    return bones.with_goals(goals, moves)


def slips_at_once(bones: Skeleton) -> Skeleton:
    """A dominant seventh before a chord at rest a semitone below resolves there, unless the grammar is sure of another
    goal that is near enough to be heard."""
    chords, goals, moves = bones.chords, list(bones.goals), list(bones.moves)
    for index in range(len(chords) - 1):
        chord, after = chords[index], chords[index + 1]
        goal, far = goals[index], _far(bones, index)
        if chord.cls != DOM or goal in (None, index + 1) or (bones.sure[index] > _UNSURE and not far):
            continue
        if (chord.root - after.root) % 12 == 1 and after.cls in (MAJ, MIN):
            goals[index], moves[index] = index + 1, TRITONE
    return bones.with_goals(goals, moves)


def past_a_neighbour(bones: Skeleton) -> Skeleton:
    """A dominant that comes back at once from the dominant a semitone below goes where it goes then: the other is its neighbour."""
    chords, goals, moves = bones.chords, list(bones.goals), list(bones.moves)
    for index in range(len(chords) - 2):
        one, other, again = chords[index : index + 3]
        below = (one.root - other.root) % 12 == 1 and one.cls == other.cls == again.cls == DOM
        further, goes_on = goals[index + 2], index and chords[index - 1].root == other.root
        if below and not goes_on and one.root == again.root and further is not None:
            goals[index], moves[index] = further, moves[index + 2]
            goals[index + 1], moves[index + 1] = index + 2, OTHER
    return bones.with_goals(goals, moves)


def _far(bones: Skeleton, index: int) -> bool:
    """Whether a goal other than the tonic comes only after so many chords that a nearer one is heard first."""
    goal = bones.goals[index]
    return goal is not None and goal - index > _MANY and bones.chords[goal].root != bones.home[0]


def past_a_slide(bones: Skeleton) -> Skeleton:
    """A minor chord in the middle of a slide by semitones is nobody's goal from further off: the dominant on flat
    seven that seems to aim at it goes home by the back door."""
    chords, goals, moves = bones.chords, list(bones.goals), list(bones.moves)
    tonic = bones.home[0]
    for index, goal in enumerate(goals):
        if goal is None or goal == TOP or not index + 1 < goal < len(chords) - 1:
            continue
        run = chords[goal - 1 : goal + 2]
        slides = (
            all(x.cls == MIN for x in run)
            and run[0].root - run[1].root in (1, -11)
            and run[1].root - run[2].root in (1, -11)
        )
        if not slides or chords[index].cls != DOM or (chords[index].root - tonic) % 12 != 10:
            continue
        rests = (x for x in range(goal + 1, len(chords)) if chords[x].root == tonic and chords[x].cls in STABLE)
        home = next(rests, None)
        if home is not None:
            goals[index], moves[index] = home, BACKDOOR
    return bones.with_goals(goals, moves)


def tonics_turned_dominant(bones: Skeleton) -> Skeleton:
    """The tonic as a dominant seventh that leads to 4: before iv in a minor key, with its own ii before it, or where 1 itself has
    just turned into it and 4 is at rest; also from the end of the chorus to its top."""
    chords, goals, moves = bones.chords, list(bones.goals), list(bones.moves)
    home = bones.home
    for index, chord in enumerate(chords):
        after, goal = (chords[index + 1], index + 1) if index + 1 < len(chords) else (chords[0], TOP)
        if not index or chord.root != home[0] or chord.cls != DOM or (after.root - chord.root) % 12 != 5:
            continue
        before = chords[index - 1]
        own_two = before.cls in (MIN, HALF) and (chord.root - before.root) % 12 == 5
        turned = (before.root, before.cls) == (chord.root, MAJ) and after.cls in STABLE
        if own_two or ((turned or (home[1] == MINOR and after.cls == MIN)) and goals[index] is None):
            goals[index], moves[index] = goal, FIFTH
            if own_two:
                goals[index - 1], moves[index - 1] = index, SUPERTONIC
    return bones.with_goals(goals, moves)


_HELD_BARS, _SECTION_BARS = 4.0, 8.0
"""From how many bars on a suspended chord is heard as held, and as a section of its own (our choice)."""


def suspensions_for_colour(bones: Skeleton) -> Skeleton:
    """A suspended chord that is held, moves in parallel with another, or goes round with one chord asks for nothing, unless it
    resolves at once; what seemed to lead to one belongs where it stands (Miller, *Modal Jazz Composition & Harmony*, 1996)."""
    chords, goals, moves = bones.chords, list(bones.goals), list(bones.moves)
    colours = {index for index, chord in enumerate(chords) if chord.cls == SUS and _is_colour(bones, index)}
    if not colours:
        return bones
    for index in range(len(chords)):
        away = moves[index] not in (*DOMINANT_MOVES, PLAGAL)
        to_one = goals[index] in colours or (goals[index] == TOP and 0 in colours)
        if index in colours or (to_one and away):
            goals[index], moves[index] = None, ""
    return bones.with_goals(goals, moves)


def _is_colour(bones: Skeleton, index: int) -> bool:
    chords = bones.chords
    chord, before, after = chords[index], chords[index - 1], chords[(index + 1) % len(chords)]
    bars, fall = chord.duration / bones.beats, (after.root - chord.root) % 12
    if bars >= _SECTION_BARS or len(chords) == 1 or (chord.root == bones.home[0] and after.cls == SUS):
        return True
    if fall in (5, 11) and after.cls in STABLE:
        return False
    parallel = (after.cls == SUS and fall != 5) or (before.cls == SUS and (chord.root - before.root) % 12 not in (0, 5))
    return bars >= _HELD_BARS or parallel or _goes_round(chords, index)


def _goes_round(chords: Sequence[Stretch], index: int) -> bool:
    """Whether a chord stands between two soundings of another, neither its 2 nor what it falls to, and comes again itself."""
    count = len(chords)
    one, other = chords[index], chords[index - 1]
    if (one.root - other.root) % 12 == 5 or (other.root - one.root) % 12 in (5, 11):
        return False
    around = [chords[(index + step) % count] for step in (-2, -1, 1, 2)]
    sounds = [(chord.root, chord.cls) for chord in around]
    return sounds[1] == sounds[2] and (one.root, one.cls) in (sounds[0], sounds[3])
