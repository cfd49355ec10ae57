"""What every naming of a chord is made of: the label, the spelling of a degree, and how a chord goes to its goal."""

from __future__ import annotations

from typing import NamedTuple

from tunes.harmony.analysis.home_key.home import MINOR
from tunes.harmony.analysis.key_areas.tables import BORROWED, DIATONIC
from tunes.harmony.analysis.naming.places import Place
from tunes.harmony.analysis.sounds import DIM, HALF, MAJ, MIN, SUS
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.rule_ids import RuleId

_FLAT = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
_SHARP = ("1", "#1", "2", "#2", "3", "4", "#4", "5", "#5", "6", "#6", "7")


class Label(NamedTuple):
    """A function, the rule that gives it, what it resolves by, and the degree it promises (`aim`, semitones)."""

    function: Function
    rule: RuleId
    resolution: str
    aim: int | None = None


def spell(degree: int, cls: str, rising: bool) -> str:
    """A degree by use: sharps for rising diminished and for half-diminished or minor chords on the raised 4.

    >>> spell(6, "dim", True), spell(6, "dom", False), spell(6, "hdim", False), spell(3, "dim", False)
    ('#4', 'b5', '#4', 'b3')
    """
    if cls == DIM and (rising or degree in (1, 6)):
        return _SHARP[degree]
    return _SHARP[degree] if degree == 6 and cls in (HALF, MIN) else _FLAT[degree]


def semitones_of(degree: str) -> int:
    """A degree as `spell` writes it, in semitones above 1.

    >>> semitones_of("b7"), semitones_of("#4")
    (10, 6)
    """
    return _SHARP.index(degree) if degree in _SHARP else _FLAT.index(degree)


def plain(p: Place, role: str, kind: str, rule: RuleId, resolution: str | None = None, rising: bool = False) -> Label:
    function = Function(spell(p.degree, p.cls, rising), p.quality, role, kind)
    return Label(function, rule, resolution or way(p))


def way(p: Place) -> str:
    if p.goal is None:
        return "none"
    return "direct" if p.direct else "delayed"


def member(p: Place) -> str:
    """diatonic, interchange or chromatic, from the tables alone."""
    if p.mode != MINOR and p.degree == 7 and p.quality == "maj7":
        return "chromatic"  # its seventh is the raised 4
    if p.cls == SUS:
        return _member_suspended(p)
    if (p.degree, p.cls) in DIATONIC[p.mode] or (p.mode == MINOR and (p.degree, p.cls) == (7, MAJ)):
        return "diatonic"
    return "interchange" if (p.degree, p.cls) in BORROWED[p.mode] else "chromatic"


def _member_suspended(p: Place) -> str:
    """The same of a suspended chord, by its notes: it has no third to tell the mode by."""
    notes = {(p.degree + step) % 12 for step in ((0, 5, 7, 10) if "7" in p.quality else (0, 5, 7))}
    own, other = ("minor", "major") if p.mode == MINOR else ("major", "minor")
    if any(notes <= scale for scale in _SCALES[own]):
        return "diatonic"
    return "interchange" if any(notes <= scale for scale in _SCALES[other]) else "chromatic"


_SOUNDS = {
    "": (0, 4, 7), "6": (0, 4, 7, 9), "maj7": (0, 4, 7, 11), "m": (0, 3, 7), "m6": (0, 3, 7, 9), "m7": (0, 3, 7, 10),
    "mmaj7": (0, 3, 7, 11), "m7b5": (0, 3, 6, 10),
}  # fmt: skip
_SCALES = {
    "major": ({0, 2, 4, 5, 7, 9, 11},),
    "minor": ({0, 2, 3, 5, 7, 8, 10}, {0, 2, 3, 5, 7, 8, 11}, {0, 2, 3, 5, 7, 9, 11}),
}


def in_key(p: Place) -> bool:
    """Whether all the notes of a chord without a dominant sound lie in one scale of the key: major, or a minor (logical)."""
    notes = {(p.degree + step) % 12 for step in _SOUNDS.get(p.quality, ())}
    return any(notes <= scale for scale in _SCALES[MINOR if p.mode == MINOR else "major"])


def target_of(p: Place) -> tuple[str, bool]:
    assert p.goal is not None
    return spell(p.goal_degree, p.goal.cls, False), p.goal.cls in (MIN, HALF, DIM)
