"""How a reading is said: the words of its reason, every chord by one name.

A chord that is named by what it leads to (``2 of 4``) is called so wherever it is spoken of in its key; where its degree is
wanted, the other name goes beside it.
"""

from __future__ import annotations

from collections.abc import Sequence

from tunes.harmony.analysis.home_key.home import MAJOR
from tunes.harmony.analysis.key_areas.areas import KeyPc, key_of
from tunes.harmony.analysis.key_areas.names import KeyNames
from tunes.harmony.analysis.naming.company import comes_again
from tunes.harmony.analysis.naming.label import Label, spell
from tunes.harmony.analysis.preparation.skeleton import TOP, Skeleton
from tunes.harmony.analysis.sounds import DOM, HALF, MAJ, MIN, STABLE
from tunes.harmony.explain.sentences import TELLS_NEXT, Words, reason
from tunes.harmony.readings.function import say_degree

_PREPARING = frozenset({"supertonic", "chromatic-ii", "predominant", "substitute-ii", "taken-up"})
_MODES = {
    (1, MAJ): "the Phrygian mode",
    (6, HALF): "the Lydian mode",
    (5, DOM): "the Dorian mode",
    (5, MAJ): "the Dorian mode",
}
"""Where a borrowed chord is from, when not from the other mode (modal interchange: Nettles & Graf 1997)."""
_MODES_OF = {(10, "maj7"): "the Mixolydian mode", (7, "m6"): "the Mixolydian mode"}
"""The same, where it hangs on the seventh or the sixth: flat 7 of minor is 7 or a triad."""
_MINOR_DEGREES = frozenset({2, 4, 9})
"""Semitones above 1 of the degrees whose chords are minor in major."""
_RESTS = frozenset({"rest", "local-rest"})


def _spoken(found: Label) -> str:
    """A chord as its own sentence calls it: a dominant that falls suspended says so."""
    function = found.function
    hangs = (
        function.of == "5" and function.quality in ("7sus", "sus") and found.rule in ("dominant", "applied", "chain")
    )
    return f"{function.spoken}, suspended," if hangs else function.spoken


class Teller:
    """Says why each stretch of a chorus is read as it is."""

    def __init__(self, bones: Skeleton, names: KeyNames, keys: Sequence[KeyPc], labels: Sequence[Label]) -> None:
        self.bones, self.names, self.keys, self.labels = bones, names, keys, labels

    def reason(self, index: int, found: Label, key: KeyPc, bones: Skeleton | None = None) -> str:
        """The reason of a label in a key; `bones` when the goals are not those of the reading itself."""
        goal = (bones or self.bones).goals[index]
        if found.rule == "taken-up" and (again := comes_again(index, self.bones, self.labels, self.keys)) is not None:
            goal = self.bones.goals[again]
        target = itself = ""
        if goal is not None:
            at = 0 if goal == TOP else goal
            target = self._target_name(at, found.rule, key)
            if found.function.of in ("5", "sub5") and found.rule in ("applied", "tritone"):
                target = found.function.spoken_target
            itself = self._itself(at, target, key) or ("a dominant" if found.rule == "chain" else "")
        aim = "" if found.aim is None else say_degree(found.function.target or spell(found.aim, "maj", False))
        chord = self.bones.chords[index]
        name = key_of(chord) if found.rule in _RESTS and chord.root == key[0] and chord.cls in STABLE else key
        degree = (chord.root - key[0]) % 12
        mode = _MODES.get((degree, chord.cls), "") or _MODES_OF.get((degree, found.function.quality), "")
        following = self._next_name(index, key) if found.rule in TELLS_NEXT else ""
        between = self.between(index, goal, key) if found.resolution == "delayed" or found.rule == "plagal" else ""
        return reason(
            found.rule,
            _spoken(found),
            self.names.key(name).text,
            Words(target, aim, following, mode, itself=itself, between=between),
        )

    def between(self, index: int, goal: int | None, key: KeyPc) -> str:
        """The first chord that stands between a chord and its goal, and whether there are more; "" when there is none."""
        end = len(self.bones.chords) if goal == TOP else goal
        if end is None or end <= index + 1:
            return ""
        first = self._own_name(index + 1, key) or self._degree_name(index + 1, key)
        return f", with {first} between" if end == index + 2 else f", with {first} and more between"

    def _itself(self, at: int, target: str, key: KeyPc) -> str:
        """What a goal is called in its turn, when that is not the degree it has just been named by."""
        name = self._own_name(at, key)
        return name if name not in ("", target) else ""

    def _own_name(self, at: int, key: KeyPc) -> str:
        """A chord by its own function, when it is read in this key and named by what it leads to; else ""."""
        function = self.labels[at].function
        return function.spoken if key == self.keys[at] and function.of in ("2", "5", "sub5") else ""

    def _next_name(self, index: int, key: KeyPc) -> str:
        """The chord that follows, by its degree and what it is called in its turn."""
        at = (index + 1) % len(self.bones.chords)
        degree, name = self._degree_name(at, key), self._own_name(at, key)
        return f"{degree}, here {name}," if name not in ("", degree) else degree

    def _degree_name(self, at: int, key: KeyPc) -> str:
        """A chord by its own name in this key, or by its degree where it is named by what it leads to; a minor chord
        on a degree that is major in major says so."""
        chord, function = self.bones.chords[at], self.labels[at].function
        if key == self.keys[at] and function.of is None:
            return function.spoken
        semitones = (chord.root - key[0]) % 12
        degree = say_degree(spell(semitones, chord.cls, False))
        return f"{degree} minor" if chord.cls == MIN and semitones not in _MINOR_DEGREES and key[1] == MAJOR else degree

    def _target_name(self, at: int, rule: str, key: KeyPc) -> str:
        """A goal as a reason names it: a dominant that is prepared by its function, anything else by its degree."""
        chord = self.bones.chords[at]
        if rule in _PREPARING and key == self.keys[at] and self.labels[at].function.role == "dominant":
            return self.labels[at].function.spoken
        if rule == "approach":
            return self._degree_name(at, key)
        return say_degree(spell((chord.root - key[0]) % 12, chord.cls, False))
