"""What hangs on the home key or on how sure the grammar is, and so cannot be one of its `constraints`: goals corrected afterwards.

Each is a pass of its own, a pure function from skeleton to skeleton; `analysis.pipeline` states their order.
"""

from __future__ import annotations

from dataclasses import replace

from tunes.harmony.analysis.home_key.home import MINOR
from tunes.harmony.analysis.preparation.skeleton import TOP, Skeleton
from tunes.harmony.analysis.relations import BACKDOOR, FIFTH, SUPERTONIC, TRITONE
from tunes.harmony.analysis.sounds import DOM, HALF, MAJ, MIN, STABLE, SUS

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
    return replace(bones, goals=tuple(goals), moves=tuple(moves))


def slips_at_once(bones: Skeleton) -> Skeleton:
    """A dominant seventh before a chord at rest a semitone below resolves there, unless the grammar is sure of another
    goal."""
    chords, goals, moves = bones.chords, list(bones.goals), list(bones.moves)
    for index in range(len(chords) - 1):
        chord, after = chords[index], chords[index + 1]
        if chord.cls != DOM or goals[index] in (None, index + 1) or bones.sure[index] > _UNSURE:
            continue
        if (chord.root - after.root) % 12 == 1 and after.cls in (MAJ, MIN):
            goals[index], moves[index] = index + 1, TRITONE
    return replace(bones, goals=tuple(goals), moves=tuple(moves))


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
    return replace(bones, goals=tuple(goals), moves=tuple(moves))


def tonics_turned_dominant(bones: Skeleton) -> Skeleton:
    """The tonic as a dominant seventh that leads to 4: before iv in a minor key, or with its own ii before it."""
    chords, goals, moves = bones.chords, list(bones.goals), list(bones.moves)
    home = bones.home
    for index in range(len(chords) - 1):
        chord, after = chords[index], chords[index + 1]
        if chord.root != home[0] or chord.cls != DOM or (after.root - chord.root) % 12 != 5:
            continue
        before = chords[index - 1] if index else None
        own_two = before is not None and before.cls in (MIN, HALF) and (chord.root - before.root) % 12 == 5
        if own_two or (home[1] == MINOR and after.cls == MIN and goals[index] is None):
            goals[index], moves[index] = index + 1, FIFTH
            if own_two:
                goals[index - 1], moves[index - 1] = index, SUPERTONIC
    return replace(bones, goals=tuple(goals), moves=tuple(moves))
