"""What a label says once the chords after it are labelled too: whether 3 rests, what flat 7 does in its turn.

The rules of `labels` look at one place; these look at how its neighbours have been named. Only the rule changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tunes.harmony.analysis.key_areas.cadences import KeyPc
from tunes.harmony.analysis.naming.label import Label, semitones_of
from tunes.harmony.analysis.preparation.skeleton import TOP, Skeleton
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.rule_ids import RuleId

_ONWARD = {RuleId.BACKDOOR_THREE: RuleId.BACKDOOR_LEFT, RuleId.TO_THREE: RuleId.THREE_ONWARD}
"""Rules by which 3 takes the place of 1, and what holds where that 3 sets out again."""
_LEADING = frozenset({"direct", "delayed"})


def in_company(index: int, found: Label, bones: Skeleton, labels: Sequence[Label]) -> Label:
    """The label with the rule that agrees with the names of the chords after it."""
    goal = bones.goals[index]
    if found.rule in _ONWARD and not three_rests(index, labels):
        return found._replace(rule=_ONWARD[found.rule])
    if found.rule == RuleId.TO_FLAT_SEVEN and goal is not None and goal != TOP and labels[goal].function.of == "sub5":
        return found._replace(rule=RuleId.TO_SUBSTITUTE)
    if found.function.of == "2" and goal is not None and goal != TOP:
        return _as_its_dominant(found, labels[goal].function)
    return found


def _as_its_dominant(found: Label, ahead: Function) -> Label:
    """A 2 that names its goal as its dominant does: one goal is written one way."""
    function = found.function
    if (
        ahead.of not in ("5", "sub5")
        or not ahead.target
        or semitones_of(ahead.target) != semitones_of(function.target or "1")
    ):
        return found
    return found._replace(function=replace(function, target=ahead.target, target_minor=ahead.target_minor))


def three_rests(index: int, labels: Sequence[Label]) -> bool:
    """Whether the chord after one is at rest: only then is it heard in the place of 1."""
    return labels[(index + 1) % len(labels)].function.role in ("tonic", "colour")


def comes_again(index: int, bones: Skeleton, labels: Sequence[Label], keys: Sequence[KeyPc]) -> int | None:
    """Where a chord that is taken up again sets out at last, as the same chord of the same key; else None."""
    goal = bones.goals[index]
    end = len(labels) if goal is None or goal == TOP else goal
    here = (bones.chords[index].root, bones.chords[index].quality)
    at = next((at for at in range(index + 1, end) if (bones.chords[at].root, bones.chords[at].quality) == here), None)
    if at is None or (labels[at].function, keys[at]) != (labels[index].function, keys[index]):
        return None
    if labels[at].resolution not in _LEADING:
        return None
    return at if labels[at].rule != RuleId.TAKEN_UP else comes_again(at, bones, labels, keys)
