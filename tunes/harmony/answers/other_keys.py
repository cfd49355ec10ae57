"""A function as it is named in another key: the home key inside a passage, or a key that only passes.

"bIII7" and "V7/bVI" in C are the V7 of a passage in A flat; "A flat: ii" is the 2 of 4 in E flat. Names are moved along
the line of fifths, so a degree keeps its spelling as far as a player would write it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from tunes.harmony.answers.closeness import RELATIONS, Closeness, compare
from tunes.harmony.answers.form import SUBSTITUTE, Answer, degree_at, degree_fifths
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.function import Function

_AIMED = ("5", SUBSTITUTE, "2", "7", "b7")
_GOOD = ("exact", "equivalent", "enharmonic")


def seen_from(function: Function, own: Key, other: Key) -> Function:
    """A function of the key `own` as the key `other` names it: its tonic becomes the chord aimed at.

    >>> five = Function("5", "7", "dominant", "diatonic", "1", False, "5")
    >>> seen_from(five, Key.parse("Ab"), Key.parse("C")).numeral
    'V7/bVI'
    """
    shift = own.tonic.fifths - other.tonic.fifths
    shift -= 12 * round(shift / 12)
    of, target = function.of, function.target
    if of in _AIMED:
        target = target or "1"
    elif function.kind == "diatonic" and (function.degree, function.role) in (("2", "predominant"), ("5", "dominant")):
        of, target = function.degree, "1"
    goal = degree_at(degree_fifths(target) + shift) if target is not None else None
    minor = own.mode == "minor" if target == "1" else function.target_minor
    return replace(
        function, degree=degree_at(degree_fifths(function.degree) + shift), of=of, target=goal, target_minor=minor
    )


def from_home(given: Answer, home: Key, expected: Function, own: Key) -> Closeness:
    """How near an answer that counts in the home key is to a function of a passage in another key."""
    seen = seen_from(expected, own, home)
    plain = replace(seen, of=None, target=None) if expected.of is None or expected.target in (None, "1") else seen
    found = min(
        (compare(given, one, home, home) for one in (seen, plain)),
        key=lambda one: (RELATIONS.index(one.relation), one.quality != "right"),
    )
    return replace(found, relation="equivalent") if found.relation == "enharmonic" else found


def from_passing(given: Answer, typed: Key, expected: Function, own: Key, passing: tuple[Key, ...]) -> Closeness | None:
    """How near an answer is that counts in a key which only passes: the goal of this chord, or a key of `passing`. None
    where that key is not heard there or says something else."""
    if typed.tonic.pc == own.tonic.pc:
        return None
    for found in _passing(given, typed, expected, own, passing):
        if found.relation in _GOOD:
            return replace(found, relation="equivalent") if found.relation == "enharmonic" else found
    return None


def _passing(given: Answer, typed: Key, expected: Function, own: Key, passing: tuple[Key, ...]) -> Iterator[Closeness]:
    aimed = replace(given, of=(*given.of, degree_at(_from(own, typed))))
    if aimed.frame:
        yield compare(aimed, expected, own, own)
    if any((key.tonic.pc, key.mode) == (typed.tonic.pc, typed.mode) for key in passing):
        yield compare(given, seen_from(expected, own, typed), typed, typed)


def _from(own: Key, other: Key) -> int:
    shift = other.tonic.fifths - own.tonic.fifths
    return shift - 12 * round(shift / 12)
