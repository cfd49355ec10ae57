"""What the reason of a reading names, every chord by one name.

A chord that is named by what it leads to (``2 of 4``) is called so wherever it is spoken of in its key; where its degree is
wanted, the other name goes beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tunes.harmony.analysis.home_key.home import MAJOR, MINOR
from tunes.harmony.analysis.key_areas.cadences import KeyPc, key_of
from tunes.harmony.analysis.key_areas.names import KeyNames
from tunes.harmony.analysis.key_areas.tables import DIATONIC
from tunes.harmony.analysis.naming.company import comes_again
from tunes.harmony.analysis.naming.label import Label, spell
from tunes.harmony.analysis.preparation.skeleton import TOP, Skeleton
from tunes.harmony.analysis.sounds import DOM, HALF, MAJ, MIN, STABLE
from tunes.harmony.explain.sentences import TELLS_NEXT, named
from tunes.harmony.readings.reason import Args, Named, Reason
from tunes.harmony.readings.rule_ids import RuleId

_PREPARING = frozenset(
    {
        RuleId.SUPERTONIC,
        RuleId.CHROMATIC_II,
        RuleId.PREDOMINANT,
        RuleId.PREDOMINANT_BORROWED,
        RuleId.SUBSTITUTE_II,
        RuleId.TAKEN_UP,
    }
)
_MODES = {(1, MAJ): "phrygian", (6, HALF): "lydian", (5, DOM): "dorian", (5, MAJ): "dorian"}
"""Where a borrowed chord is from, when not from the other mode (modal interchange: Nettles & Graf 1997)."""
_MODES_OF = {(10, "maj7"): "mixolydian", (7, "m6"): "mixolydian"}
"""The same, where it hangs on the seventh or the sixth: flat 7 of minor is 7 or a triad."""
_LEADING = frozenset({RuleId.LEADING, RuleId.LEADING_TURNED, RuleId.LEADING_DELAYED, RuleId.PASSING_UP})
_MINOR_DEGREES = frozenset({2, 4, 9})
"""Semitones above 1 of the degrees whose chords are minor in major."""
MOVES_ON = TELLS_NEXT | {RuleId.TO_THREE, RuleId.THREE_ONWARD}
"""Rules that say what comes next: the music goes on to it, also where nothing is promised."""
_RESTS = frozenset({RuleId.REST, RuleId.LOCAL_REST})


def _suspended(found: Label) -> bool:
    """Whether a chord says so in its own sentence: a dominant that falls suspended."""
    function = found.function
    sus = function.of == "5" and function.quality in ("7sus", "sus")
    return sus and found.rule in (RuleId.DOMINANT, RuleId.APPLIED, RuleId.CHAIN)


class Teller:
    """Says why each stretch of a chorus is read as it is."""

    def __init__(self, bones: Skeleton, names: KeyNames, keys: Sequence[KeyPc], labels: Sequence[Label]) -> None:
        self.bones, self.names, self.keys, self.labels = bones, names, keys, labels

    def reason(self, index: int, found: Label, key: KeyPc, bones: Skeleton | None = None) -> Reason:
        """The reason of a label in a key; `bones` when the goals are not those of the reading itself."""
        goal = (bones or self.bones).goals[index]
        if (
            found.rule == RuleId.TAKEN_UP
            and (again := comes_again(index, self.bones, self.labels, self.keys)) is not None
        ):
            goal = self.bones.goals[again]
        target = itself = None
        if goal is not None:
            at = 0 if goal == TOP else goal
            target = self._target_name(at, found.rule, key)
            if found.function.of in ("5", "sub5") and found.rule in (RuleId.APPLIED, RuleId.TRITONE):
                target = _of(found)
            itself = self._itself(at, target, key)
        chord = self.bones.chords[index]
        name = key_of(chord) if found.rule in _RESTS and chord.root == key[0] and chord.cls in STABLE else key
        degree = (chord.root - key[0]) % 12
        told = Args(
            key=self.names.key(name), chord=found.function, suspended=_suspended(found), target=target, itself=itself,
            aim=None if found.aim is None else Named(degree=found.function.target or spell(found.aim, "maj", False)),
            borrowed=_borrowed_from(degree, chord.cls, found.function.quality, key[1]),
        )  # fmt: skip
        if found.rule in TELLS_NEXT:
            told = self._with_next(told, index, key)
        if found.resolution == "delayed" or found.rule == RuleId.PLAGAL:
            told = self.with_between(told, index, goal, key)
        return Reason(rule=found.rule, args=told)

    def with_between(self, told: Args, index: int, goal: int | None, key: KeyPc) -> Args:
        """With the first chord that stands between a chord and its goal, and whether there are more."""
        end = len(self.bones.chords) if goal == TOP else goal
        if end is None or end <= index + 1:
            return told
        first = self._own_name(index + 1, key) or self._degree_name(index + 1, key)
        return replace(told, between=first, more_between=end != index + 2)

    def _itself(self, at: int, target: Named, key: KeyPc) -> Named | None:
        """What a goal is called in its turn, when that is not the degree it has just been named by."""
        return _unlike(self._own_name(at, key), target)

    def _own_name(self, at: int, key: KeyPc) -> Named | None:
        """A chord by its own function, when it is read in this key and named by what it leads to; else None."""
        function = self.labels[at].function
        return Named(function=function) if key == self.keys[at] and function.of in ("2", "5", "sub5") else None

    def _with_next(self, told: Args, index: int, key: KeyPc) -> Args:
        """With the chord that follows, by its degree and what it is called in its turn."""
        at = (index + 1) % len(self.bones.chords)
        if self.keys[at] != key:  # a new key begins there: the chord is called as it is called in it
            there = self.keys[at]
            after = self._own_name(at, there) or self._degree_name(at, there)
            return replace(told, following=after, following_key=self.names.key(there))
        degree = self._degree_name(at, key)
        return replace(told, following=degree, following_as=_unlike(self._own_name(at, key), degree))

    def _degree_name(self, at: int, key: KeyPc) -> Named:
        """A chord by its own name in this key, or by its degree where it is named by what it leads to; a minor chord
        on a degree that is major in major says so."""
        chord, function = self.bones.chords[at], self.labels[at].function
        if key == self.keys[at] and function.of is None:
            return Named(function=function)
        semitones = (chord.root - key[0]) % 12
        minor = chord.cls == MIN and semitones not in _MINOR_DEGREES and key[1] == MAJOR
        quality = (
            "half diminished"
            if chord.cls == HALF and (semitones, HALF) not in DIATONIC[key[1]]
            else "minor"
            if minor
            else ""
        )
        return Named(degree=spell(semitones, chord.cls, False), quality=quality)

    def _target_name(self, at: int, rule: RuleId, key: KeyPc) -> Named:
        """A goal as a reason names it: a dominant that is prepared by its function, anything else by its degree."""
        chord = self.bones.chords[at]
        if rule in _PREPARING and key == self.keys[at] and self.labels[at].function.role == "dominant":
            return Named(function=self.labels[at].function)
        if rule == RuleId.APPROACH:
            return self._degree_name(at, key)
        semitones = (chord.root - key[0]) % 12
        turned = rule in _LEADING and chord.cls == MIN and semitones in (0, 5, 7) and key[1] == MAJOR
        return Named(degree=spell(semitones, chord.cls, False), quality="minor" if turned else "")


def _borrowed_from(degree: int, cls: str, quality: str, mode: str) -> str:
    """The mode that a borrowed chord is from, "" when it is the other of major and minor."""
    if (degree, quality, mode) == (5, "maj7", MINOR):  # Dorian has 4 with a flat 7
        return ""
    if (degree, quality, mode) == (10, "maj7", MINOR):  # natural minor has flat 7 with a flat 7
        return "dorian"
    return _MODES.get((degree, cls), "") or _MODES_OF.get((degree, quality), "")


def _of(found: Label) -> Named:
    """The goal of an applied dominant as its function names it: "5 of 5 minor" goes to 5 minor."""
    return Named(degree=found.function.target or "1", quality=found.function.target_quality)


def _unlike(name: Named | None, other: Named) -> Named | None:
    """A name, unless it is said like the other."""
    return None if name is None or named(name) == named(other) else name
