"""How near a student's answer is to a chord's function.

`compare` says which relation holds (``RELATIONS``), never how many points it is worth: that is the marking
table's business.  Names are compared by what they claim (goal and kind of step) and chords by what sounds
(root and quality), so that ``II7`` and ``V7/V``, ``bII7`` and ``subV7``, ``vm7`` and ``ii7/IV`` are one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from tunes.harmony.answers.reader import SUBSTITUTE, Answer, degree_fifths
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.function import Function

RELATIONS: tuple[str, ...] = (
    "exact", "equivalent", "rootless", "enharmonic", "relative-key", "parallel-key", "other-key-area",
    "dominant-substitute", "same-chord-other-role", "root-only", "function-relative-key", "function-other-key",
    "target-missing", "chain-position", "diminished-other-root", "root-other-chord", "related-ii-other-target",
    "other-target", "family", "other",
)
"""Every relation, nearest first."""

FAMILY: dict[str, str] = {
    "": "major", "6": "major", "maj7": "major", "7": "dominant", "7sus": "suspended", "sus": "suspended",
    "m": "minor", "m6": "minor", "m7": "minor", "mmaj7": "minor", "m7b5": "half-diminished",
    "dim": "diminished", "dim7": "diminished", "aug": "augmented", "5": "power",
}
"""Chord families that count as one quality in an answer: a triad and its seventh chord are not told apart."""

_MINOR_THIRD = ("minor", "half-diminished", "diminished")
_DOMINANT_FRAMES = ("5", SUBSTITUTE, "7", "b7")


@dataclass(frozen=True, slots=True)
class Closeness:
    """``relation``: an entry of ``RELATIONS``.  ``quality``: "right", "open" (not given), "case" (not given,
    but a lower-case numeral on a chord with a major third) or "wrong"."""

    relation: str
    quality: str


@dataclass(frozen=True, slots=True)
class _Name:
    """A name reduced to what can be compared: place of the root, frame and place of the goal, all in fifths; and the
    place where the goal puts the root, when that is the same note under another spelling.

    Home dominants and home ii chords are plain (``5 of 1`` is ``5``); a substitute for the home dominant
    keeps its frame, because that is how it is named.
    """

    root: int
    frame: str | None
    goal: int | None
    implied: int

    def same_root(self, other: _Name) -> bool:
        """Whether the roots are one, in either spelling."""
        return bool({self.root, self.implied} & {other.root, other.implied})


def _name(degree: str, frame: str | None, target: str | None) -> _Name:
    if frame in ("5", "2", "7", "b7") and target in (None, "1"):
        frame, target = None, None
    root = degree_fifths(degree)
    if frame is None:
        return _Name(root, None, None, root)
    goal = degree_fifths(target or "1")
    implied = goal + ABOVE_GOAL[frame]
    return _Name(root, frame, goal, implied if (root - implied) % 12 == 0 else root)


ABOVE_GOAL = {"5": 1, SUBSTITUTE: -5, "2": 2, "7": 5, "b7": -2}
"""Where the root lies from its goal on the line of fifths; a name that says the goal says the root too."""


def name_of_answer(given: Answer) -> _Name:
    """The comparable name of an answer."""
    return _name(given.degree, given.frame, given.target)


def name_of_function(expected: Function) -> _Name:
    """The comparable name of a function."""
    return _name(expected.degree, expected.of, expected.target)


def compare(given: Answer, expected: Function, given_key: Key, expected_key: Key) -> Closeness:
    """The nearest relation of an answer, read in ``given_key``, to a function in ``expected_key``.

    >>> from tunes.harmony.answers.reader import read_answer
    >>> c = Key.parse("C")
    >>> five_of_five = Function("2", "7", "dominant", "applied", "5", False, "5")
    >>> [compare(read_answer(text).answer, five_of_five, c, c).relation for text in ("V/V", "II7", "sub 5 of 5", "5 of 2")]
    ['exact', 'equivalent', 'dominant-substitute', 'other-target']
    """
    if given.no_chord or expected.kind == "no-chord":
        same = given.no_chord and expected.kind == "no-chord"
        return Closeness("exact" if same else "other", "right" if same else "wrong")
    found = [_compare_one(one, expected, given_key, expected_key) for one in readings_in(given, given_key)]
    return min(found, key=lambda one: (RELATIONS.index(one.relation), one.quality != "right", one.quality == "wrong"))


def readings_in(given: Answer, key: Key) -> tuple[Answer, ...]:
    """In a minor key a plain 3, 6 or 7 may mean the degree of the key itself (b3, b6, b7).

    >>> [a.degree for a in readings_in(Answer("6"), Key.parse("C minor"))]
    ['6', 'b6']
    """
    if key.mode == "major":
        return (given,)
    if not given.of and given.head in ("3", "6", "7"):
        return given, replace(given, head="b" + given.head)
    if given.of and given.of[-1] in ("3", "6", "7"):
        return given, replace(given, of=(*given.of[:-1], "b" + given.of[-1]))
    return (given,)


def _compare_one(given: Answer, expected: Function, given_key: Key, expected_key: Key) -> Closeness:
    ours, theirs = name_of_answer(given), name_of_function(expected)
    quality = quality_of(given, expected)
    shift = given_key.tonic.fifths - expected_key.tonic.fifths
    if shift % 12 == 0 and given_key.mode == expected_key.mode:
        return Closeness(_same_key(given, ours, expected, theirs, quality), quality)
    if shift % 12 == 0:
        plain = _same_key(given, ours, expected, theirs, quality)
        return Closeness("parallel-key" if plain in ("exact", "equivalent") else plain, quality)
    relative = (given_key.tonic.pc, given_key.mode) == (expected_key.relative.tonic.pc, expected_key.relative.mode)
    if (ours.root + shift - theirs.root) % 12 == 0 and quality != "wrong":
        return Closeness("relative-key" if relative else "other-key-area", quality)
    if _same_key(given, ours, expected, theirs, quality) in ("exact", "equivalent"):
        return Closeness("function-relative-key" if relative else "function-other-key", quality)
    return Closeness("other", quality)


def _same_key(given: Answer, ours: _Name, expected: Function, theirs: _Name, quality: str) -> str:
    if (ours.frame, ours.goal) == (theirs.frame, theirs.goal) and (ours.frame or ours.same_root(theirs)):
        return "exact"
    if ours.same_root(theirs):
        return _same_root(given, ours, expected, theirs, quality)
    if (ours.root - theirs.root) % 12 == 0:
        return "enharmonic" if quality != "wrong" else "root-other-chord"
    if _rootless(given, ours, expected):
        return "rootless"
    if _same_diminished(given, ours, expected, theirs):
        return "diminished-other-root"
    return _other_root(given, ours, expected, theirs)


def _same_root(given: Answer, ours: _Name, expected: Function, theirs: _Name, quality: str) -> str:
    """Same root, named otherwise: by its own degree where a goal was expected, or the other way round."""
    if quality in ("wrong", "case"):
        return "root-other-chord"
    if ours.frame is None:
        if quality == "right" or (theirs.goal == 0 and theirs.frame == SUBSTITUTE):
            return "equivalent"
        return "root-only"
    if ours.frame == "7" and FAMILY.get(expected.quality) == "diminished":
        return "equivalent"
    if ours.frame == SUBSTITUTE and ours.goal == 0:
        return "equivalent"
    if theirs.frame is None and expected.target is not None and ours.goal == degree_fifths(expected.target):
        return "equivalent"
    return "same-chord-other-role"


def _rootless(given: Answer, ours: _Name, expected: Function) -> bool:
    """A diminished seventh called by the dominant whose upper notes it is (#i°7 = V7b9/ii without root).

    X°7 equals the upper four notes of the 7b9 chord rooted a semitone below any of its notes (a logical identity).
    """
    if FAMILY.get(expected.quality) != "diminished" or FAMILY.get(given.full_quality or "") != "dominant":
        return False
    if expected.kind in ("auxiliary-diminished", "common-tone-diminished"):
        return False
    if ours.frame != "5" and not (ours.frame is None and given.head == "5"):
        return False
    return _semitones(degree_fifths(expected.degree) - ours.root) % 3 == 1


def _same_diminished(given: Answer, ours: _Name, expected: Function, theirs: _Name) -> bool:
    both = FAMILY.get(expected.quality) == "diminished" and FAMILY.get(given.full_quality or "") == "diminished"
    return both and _semitones(ours.root - theirs.root) % 3 == 0


def _semitones(fifths: int) -> int:
    return fifths * 7 % 12


def _other_root(given: Answer, ours: _Name, expected: Function, theirs: _Name) -> str:
    ours_frame, ours_goal = _framed(given, ours)
    theirs_frame, theirs_goal = _framed_function(expected, theirs)
    both_dominant = ours_frame in _DOMINANT_FRAMES and theirs_frame in _DOMINANT_FRAMES
    if both_dominant and ours_goal == theirs_goal:
        return "dominant-substitute"
    if theirs.frame and ours.frame is None and given.head == theirs.frame and theirs.goal != 0:
        return "target-missing"
    if theirs.frame and ours.frame and ours.goal == theirs.goal:
        return "chain-position"
    if ours.frame == "2" and theirs.frame == "2":
        return "related-ii-other-target"
    if ours.frame and theirs.frame and both_dominant:
        return "other-target"
    if expected.role in ("tonic", "predominant", "dominant") and role_of(given) == expected.role:
        return "family"
    return "other"


def _framed(given: Answer, name: _Name) -> tuple[str | None, int | None]:
    """The frame and goal, with the home dominants put back into a frame of their own."""
    if name.frame is None and given.head in ("5", "7") and not given.of:
        return given.head, 0
    if name.frame is None and given.head == "b7" and given.full_quality == "7":
        return "b7", 0
    return name.frame, name.goal


def _framed_function(expected: Function, name: _Name) -> tuple[str | None, int | None]:
    if name.frame is not None:
        return name.frame, name.goal
    if expected.degree in ("5", "7", "b7") and expected.role == "dominant" and expected.target in (None, "1"):
        return expected.degree, 0
    return None, None


_ROLES: dict[str, str] = {
    "1": "tonic", "3": "tonic", "6": "tonic", "b3": "tonic", "2": "predominant", "4": "predominant",
    "b6": "predominant", "b2": "predominant", "5": "dominant", "7": "dominant", "b7": "dominant",
}
"""Families of the degrees (common practice, no source)."""


def role_of(given: Answer) -> str:
    """The family an answer belongs to: tonic, predominant, dominant, or "none".

    >>> role_of(Answer("4")), role_of(Answer("5", of=("2",))), role_of(Answer("6", "7"))
    ('predominant', 'dominant', 'dominant')
    """
    if given.frame in _DOMINANT_FRAMES or FAMILY.get(given.full_quality or "") == "dominant":
        return "dominant"
    if given.frame == "2":
        return "predominant"
    return _ROLES.get(given.degree, "none")


def quality_of(given: Answer, expected: Function) -> str:
    """Whether the quality an answer gives, or implies by its name or its case, is the chord's.

    >>> iim7 = Function("2", "m7", "predominant", "diatonic")
    >>> [quality_of(Answer("2", q, lower=low), iim7) for q, low in ((None, None), (None, True), ("m", None), ("7", None))]
    ['open', 'right', 'right', 'wrong']
    """
    family = FAMILY.get(expected.quality, "major")
    stated = given.quality
    if stated is not None:
        return "right" if _agrees(FAMILY.get(stated, "major"), family, expected) else "wrong"
    if given.frame == "2":
        return "right" if family in ("minor", "half-diminished") else "open"
    if given.frame == "7":
        return "right" if family in ("diminished", "half-diminished") else "wrong"
    if given.frame:
        return "right" if _agrees("dominant", family, expected) else "wrong"
    return _by_case(given, family, expected)


def _by_case(given: Answer, family: str, expected: Function) -> str:
    """A Roman numeral without a quality says what its case says: "ii" minor, "IV" major, and "V" alone also the 7th."""
    if given.lower is True:
        if family == "minor":
            return "right"
        return "open" if family in _MINOR_THIRD else "case"
    implied = family == "major" or (family == "dominant" and expected.degree == "5")
    return "right" if given.lower is False and implied else "open"


def _agrees(stated: str, family: str, expected: Function) -> bool:
    if stated == family:
        return True
    if expected.role == "dominant" and {stated, family} <= {"dominant", "suspended", "augmented", "power"}:
        return stated == "dominant"
    return False
