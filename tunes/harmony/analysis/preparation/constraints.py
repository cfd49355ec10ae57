"""Goals that are not heard, kept out of the search: where the chord that follows at once is the goal, whatever comes later.

A barred goal has no probability, so that the choices before it, the confidence and the second choice are those of a search that
knows the rule. What a rule bars depends on the chord, the chord after it, and the goals that one has in its turn.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from tunes.harmony.analysis.preparation.grammar import Node
from tunes.harmony.analysis.relations import FIFTH, SUPERTONIC, TRITONE, relation
from tunes.harmony.analysis.sounds import DIM, DOM, HALF, MAJ, MIN, SUS

Bars = Callable[[Sequence[Node], int, Sequence[int]], Sequence[int]]
"""From the nodes, a chord and its possible goals (nearest first) to the numbers of those that are barred; never the first."""


_FAR = 3
"""A substitute is not heard to lead to a chord that comes later than so many (our choice)."""


def _fall(nodes: Sequence[Node], index: int) -> int:
    return (nodes[index + 1].root - nodes[index].root) % 12


def _resolved(nodes: Sequence[Node], index: int, goals: Sequence[int]) -> Sequence[int]:
    """A dominant before the chord that it promises: not to a later one on the same root, the repetitions of the dominant itself
    passed over."""
    promised, own = nodes[index + 1].root, nodes[index].root
    barred, lands = [], own
    for k in range(len(goals) - 1, 0, -1):
        root = nodes[goals[k]].root
        lands = lands if root == own else root
        if lands == promised:
            barred.append(k)
    return barred


def _past_another_dominant(nodes: Sequence[Node], index: int, goals: Sequence[int]) -> Sequence[int]:
    """A dominant is not heard as the substitute before a chord that a 2 5 of its own, straight after, leads to; nor, with its own 2
    before it, before one that comes only after more than two other chords; and the 2 5 of home before another 2 5 keeps its name."""
    barred = []
    if len(goals) > 2 and _move(nodes, index, goals[2]) == TRITONE:
        two_five = _move(nodes, goals[0], goals[1]) == SUPERTONIC and _move(nodes, goals[1], goals[2]) == FIFTH
        barred = [2] if two_five else []
    if index and _move(nodes, index - 1, index) == SUPERTONIC:
        slips = nodes[index].degree == 7 and len(goals) > 1 and _move(nodes, goals[0], goals[1]) == SUPERTONIC
        nearest = 0 if slips else _FAR
        far = (k for k, goal in enumerate(goals) if k and goal - index > nearest)
        barred += [k for k in far if k not in barred and _move(nodes, index, goals[k]) == TRITONE]
    return barred


def _held(nodes: Sequence[Node], index: int) -> bool:
    falls_on = index + 2 < len(nodes) and _fall(nodes, index + 1) == 5
    return not falls_on and nodes[index + 1].duration >= nodes[index].duration


def all_others(nodes: Sequence[Node], index: int, goals: Sequence[int]) -> Sequence[int]:
    """Every goal but the next chord: nothing is left to weigh."""
    return range(1, len(goals))


def _of_promise(nodes: Sequence[Node], index: int) -> Bars | None:
    """For a dominant before the chord that it promises: it goes nowhere further when that chord is at rest as long as the
    dominant was and does not fall a fifth itself."""
    after = nodes[index + 1].cls
    if after in (MAJ, MIN) and _held(nodes, index):
        return all_others
    return _resolved if after in (MAJ, MIN, DOM) else None


def _past_its_substitute(nodes: Sequence[Node], index: int, goals: Sequence[int]) -> Sequence[int]:
    """A 2 before the substitute of its dominant, which falls where the dominant would: not to a dominant further on."""
    if len(goals) < 2 or _move(nodes, goals[0], goals[1]) != TRITONE:
        return ()
    return [k for k, goal in enumerate(goals) if k and _move(nodes, index, goal) == SUPERTONIC]


def _past_its_two(nodes: Sequence[Node], index: int, goals: Sequence[int]) -> Sequence[int]:
    """4 or flat 6 before a half diminished 2 a diminished fifth below, or a half diminished 6 a fifth above it: it goes round the
    circle, not past that 2."""
    return range(1, len(goals)) if len(goals) > 1 and _move(nodes, goals[0], goals[1]) == SUPERTONIC else ()


def _move(nodes: Sequence[Node], a: int, b: int) -> str:
    return relation((nodes[b].root - nodes[a].root) % 12, nodes[a].cls, nodes[b].cls)


def _slides(nodes: Sequence[Node], index: int) -> bool:
    """Whether a chord lies between two roots a semitone above and below it."""
    return index > 0 and _fall(nodes, index - 1) == _fall(nodes, index) == 11


def bars_of(nodes: Sequence[Node], index: int) -> Bars | None:
    """What bars goals of a chord; None for nearly every chord."""
    cls, after, fall = nodes[index].cls, nodes[index + 1].cls, _fall(nodes, index)
    if cls in (DOM, SUS):
        return _of_promise(nodes, index) if fall == 5 else _past_another_dominant
    if cls == DIM:
        return all_others if _slides(nodes, index) else None
    if cls == MAJ:
        return _past_its_two if fall == 6 and after == HALF else None
    if cls == HALF and fall == 5 and after == HALF:
        return _past_its_two
    if cls in (MIN, HALF):
        return _past_its_substitute if fall == 11 and after == DOM else None
    return None
