"""How near a student's answer is to a chord's function.

`compare` says which relation holds (``RELATIONS``), never how many points it is worth: that is the marking
table's business.  Names are compared by what they claim (goal and kind of step) and chords by what sounds
(root and quality), so that ``II7`` and ``V7/V``, ``bII7`` and ``subV7``, ``vm7`` and ``ii7/IV`` are one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from tunes.harmony.answers.form import SUBSTITUTE, Answer, degree_fifths
from tunes.harmony.answers.quality import FAMILY, quality_of
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.function import Function, family_of

RELATIONS: tuple[str, ...] = (
    "exact",
    "equivalent",
    "rootless",
    "enharmonic",
    "relative-key",
    "parallel-key",
    "other-key-area",
    "dominant-substitute",
    "same-chord-other-role",
    "root-only",
    "function-relative-key",
    "function-other-key",
    "target-missing",
    "chain-position",
    "diminished-other-root",
    "root-other-chord",
    "related-ii-other-target",
    "other-target",
    "family",
    "other",
)
"""Every relation, nearest first."""

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
    if given.sort:
        return _sorted(given, expected)
    found = [_compare_one(one, expected, given_key, expected_key) for one in readings_in(given, given_key)]
    return min(found, key=lambda one: (RELATIONS.index(one.relation), one.quality != "right", one.quality == "wrong"))


def _sorted(given: Answer, expected: Function) -> Closeness:
    """Only the kind of chord was named: a secondary dominant, a passing or a common-tone diminished chord."""
    if given.sort == "applied":
        if expected.of in ("5", SUBSTITUTE) and expected.target not in (None, "1"):
            return Closeness("target-missing", "right")
        return Closeness("other-target" if expected.role == "dominant" else "other", "wrong")
    if FAMILY.get(expected.quality) != "diminished":
        return Closeness("other", "wrong")
    named = given.sort == "common-tone" and expected.kind in ("common-tone-diminished", "auxiliary-diminished")
    return Closeness("equivalent" if named else "target-missing", "right")


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


def as_counted(given: Answer, key: Key | None) -> Answer:
    """How a number is echoed where two readings are marked alike: in a minor key 3, 6 and 7 are the degrees of the key itself,
    but for the half diminished and diminished chords on the raised ones (common practice, no source).

    >>> from tunes.harmony.answers.reader import read_answer
    >>> [as_counted(read_answer(text).answer, Key.parse("E minor")).degree for text in ("III", "V7/III", "viø", "VImaj7")]
    ['b3', 'b7', '6', 'b6']
    """
    if key is None:
        return given
    found = readings_in(given, key)
    raised = not given.of and given.full_quality in ("m7b5", "dim", "dim7")
    return given if raised else found[-1]


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
    if (
        quality == "open"
        and theirs.frame is not None
        and ours.frame is None
        and (ours.root + shift - theirs.root) % 12 == 0
    ):
        return Closeness("root-only", quality)
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
    above = _semitones(degree_fifths(expected.degree) - ours.root)
    if ours.frame is None and given.head != "5":
        return above == 4  # by its own degree: the dominant whose third the chord stands on
    return ours.frame in (None, "5") and above % 3 == 1


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
    return "family" if _same_family(given, expected) else "other"


def _same_family(given: Answer, expected: Function) -> bool:
    """Whether two chords are of one family: by what the chord does here, or both as chords of the key."""
    role = role_of(given)
    if family_of(expected.role) == role != "none":
        return True
    in_key = expected.kind == "diatonic" and given.degree.isdigit()
    return in_key and _ROLES.get(expected.degree) == role != "none"


def _framed(given: Answer, name: _Name) -> tuple[str | None, int | None]:
    """The frame and goal, with the home dominants put back into a frame of their own."""
    if name.frame is not None or given.of:
        return name.frame, name.goal
    if given.head == "5" or (
        given.head == "7" and FAMILY.get(given.quality or "") in ("diminished", "half-diminished")
    ):
        return given.head, 0
    if FAMILY.get(given.full_quality or "") != "dominant":
        return None, None
    home = {"b7": ("b7", 0), "b2": (SUBSTITUTE, 0)}  # every other seventh chord is the 5 of the chord a fifth below
    return home.get(given.head, ("5", name.root - 1))


def _framed_function(expected: Function, name: _Name) -> tuple[str | None, int | None]:
    if name.frame is not None:
        return name.frame, name.goal
    if expected.degree in ("5", "7", "b7") and expected.role == "dominant" and expected.target in (None, "1"):
        return expected.degree, 0
    return None, None


_ROLES: dict[str, str] = {
    "1": "tonic",
    "3": "tonic",
    "6": "tonic",
    "b3": "tonic",
    "2": "predominant",
    "4": "predominant",
    "b6": "predominant",
    "b2": "predominant",
    "5": "dominant",
    "7": "dominant",
    "b7": "dominant",
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
