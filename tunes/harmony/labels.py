"""From the skeleton to functions: what each chord is called in its key, and by which rule.

Everything here works with semitones above the local tonic; degrees are spelled by use (``#4`` for a rising
diminished chord, ``b5`` for a falling substitute), not by how the chart spells the root.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

from .functions import Function
from .home import MINOR
from .key_tables import BORROWED, DIATONIC
from .places import Place
from .preparation import Skeleton
from .relations import BACKDOOR, CHROMATIC_II, FIFTH, LEADING, PLAGAL, SUPERTONIC, TRITONE
from .sounds import AUG, DIM, DOM, DOMINANTS, HALF, MAJ, MIN, STABLE, SUS

_FLAT = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
_SHARP = ("1", "#1", "2", "#2", "3", "4", "#4", "5", "#5", "6", "#6", "7")


class Label(NamedTuple):
    """A function, the rule that gives it, what it resolves by, and the degree it promises (`aim`, semitones)."""

    function: Function
    rule: str
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


SETTLED = frozenset(
    {"rest", "tonic-family", "diatonic", "plagal", "minor-plagal", "common-tone", "blues-rest"}
)
"""Rules by which a chord is where it is, not on its way: no resolution is drawn."""
LANDING = frozenset({"local-rest", "predominant", "interchange", "chromatic", "fifths", "diatonic"})
"""Rules of chords that count as landed when a dominant has just led to them."""


_LEADING_UP = frozenset({"supertonic", "chromatic-ii", "predominant"})


@lru_cache(maxsize=65_536)
def label(p: Place) -> Label:
    """The function of a chord where it stands, and whether it is on its way."""
    found = _label(p)
    if found.rule == "local-rest" and p.at_home:
        found = found._replace(rule="rest")
    if found.resolution in ("direct", "delayed") and _settled(p, found):
        if found.rule == "predominant" and not _lands(p, found):
            found = found._replace(rule="interchange" if found.function.kind == "interchange" else "beside-tonic")
        found = found._replace(resolution="none")
    if found.rule in _LEADING_UP and p.again and found.resolution == "delayed":
        found = found._replace(rule="taken-up")
    if found.resolution == "none" and found.function.role in ("colour", "predominant") and _arrival(p, found):
        return found._replace(function=replace(found.function, role="tonic"), rule="landed")
    return found


def _arrival(p: Place, found: Label) -> bool:
    """A chord at rest to which a dominant has just led counts as landed, whatever else it is."""
    return p.arrived and p.cls in STABLE and found.rule not in ("blues-four", "vamp")


def _settled(p: Place, found: Label) -> bool:
    if found.rule in SETTLED and p.cls not in DOMINANTS:
        return True
    if found.rule == "predominant" and not p.direct and not p.arrived and (p.goal_degree != 7 or _falls_to_three(p)):
        return True
    if found.rule == "passing-step" or (found.rule in ("plagal", "blues-four") and p.goal_degree == 0):
        return True
    return _lands(p, found)


def _falls_to_three(p: Place) -> bool:
    """4 that steps back to 3 before anything else: it belongs to the tonic, not to the dominant far ahead."""
    return p.degree == 5 and p.after is not None and (p.after.root - p.tonic) % 12 == 4 and p.after.cls == MIN


def _lands(p: Place, found: Label) -> bool:
    """A chord at rest that a dominant has just led to: the run has landed, whatever comes next."""
    if not p.arrived or found.rule not in LANDING:
        return False
    if found.rule == "diatonic":
        return p.cls in STABLE
    return p.cls == MAJ and (p.direct or not p.sure)


def _label(p: Place) -> Label:
    if p.vamp and not _cadential(p):
        return _vamp(p)
    if _steps(p):
        return _plain(p, "passing", _member(p), "passing-step")
    if p.goal is None:
        return _at_rest(p)
    if p.cls == DIM:
        return _diminished(p)
    if p.cls in DOMINANTS:
        return _dominant(p)
    if p.sliding:
        return _plain(p, "passing", _member(p), "slide")
    if p.neighbour and p.degree in (1, 8, 11):
        return _plain(p, "tonic", _member(p), "neighbour", "none")
    if p.move in (SUPERTONIC, CHROMATIC_II):
        return _supertonic(p)
    return _other(p)


def _cadential(p: Place) -> bool:
    """The dominant of the key and the ii before it go round as a cadence, not as a vamp."""
    return p.cls == DIM or (p.cls in DOMINANTS and p.degree in (1, 7, 10)) or (p.cls in (MIN, HALF) and p.degree == 2)


def _vamp(p: Place) -> Label:
    if p.degree == 0:
        return _plain(p, "tonic", "diatonic" if (p.cls == MIN) == (p.mode == MINOR) else _member(p), "rest", "none")
    return _plain(p, "colour", "vamp", "vamp", "none")


def _steps(p: Place) -> bool:
    """2 between 1 and 3, in either direction: a chord of the key stepped through, all three at rest."""
    if p.before is None or p.after is None or p.degree != 2 or p.cls != MIN:
        return False
    ends = {(p.before.root - p.tonic) % 12, (p.after.root - p.tonic) % 12}
    return ends in ({0, 4}, {0, 3}) and p.before.cls in STABLE and p.after.cls in STABLE


def _plain(p: Place, role: str, kind: str, rule: str, resolution: str | None = None, rising: bool = False) -> Label:
    function = Function(spell(p.degree, p.cls, rising), p.quality, role, kind)
    return Label(function, rule, resolution or _way(p))


def _way(p: Place) -> str:
    if p.goal is None:
        return "none"
    return "direct" if p.direct else "delayed"


def _at_rest(p: Place) -> Label:
    if p.cls == DIM:
        return _auxiliary(p, "none")
    if p.degree != 0:
        kind = _member(p)
        if p.cls == DOM and (p.degree, p.cls) in BORROWED[p.mode]:
            return _plain(p, "colour", "blues" if p.degree == 5 else kind, "blues-colour", "none")
        return _plain(p, "colour", kind, kind, "none")
    if p.cls == DOM:
        return _plain(p, "tonic", "blues", "blues-rest", "none")
    other = (p.cls == MIN) != (p.mode == MINOR)
    return _plain(p, "tonic", "interchange" if other else "diatonic", "rest", "none")


def _member(p: Place) -> str:
    """diatonic, interchange or chromatic, from the tables alone."""
    if (p.degree, p.cls) in DIATONIC[p.mode]:
        return "diatonic"
    return "interchange" if (p.degree, p.cls) in BORROWED[p.mode] else "chromatic"


def _target(p: Place) -> tuple[str, bool]:
    assert p.goal is not None
    return spell(p.goal_degree, p.goal.cls, False), p.goal.cls in (MIN, HALF, DIM)


def _dominant(p: Place) -> Label:
    if p.blues and p.degree == 5 and p.move != TRITONE:
        return _plain(p, "colour", "blues", "blues-four")
    if p.blues and p.degree == 0 and p.goal_degree == 5 and not p.has_ii and p.goal is not None and p.goal.cls == DOM:
        return _plain(p, "tonic", "blues", "blues-rest", "none")
    if p.degree == 5 and p.arrived and not p.direct and p.cls == DOM and p.mode != MINOR:
        return _plain(p, "colour", "blues", "blues-four")
    if _turns_away(p):
        function = Function("5", p.quality, "dominant", "deceptive", "1", p.mode == MINOR, "5")
        return Label(function, "deceptive", "deceptive", 0)
    if p.degree == 10 and p.cls == DOM and p.mode != MINOR and p.goal_degree == 3 and p.after == (4, MIN) and not p.direct:
        function = Function("b7", p.quality, "dominant", "backdoor", "1", False, "b7")
        return Label(function, "backdoor-three", "deceptive", 0)
    if p.move in (FIFTH, TRITONE):
        return _resolving(p)
    if p.move == BACKDOOR and p.degree == 10 and p.goal_degree == 0:
        function = Function("b7", p.quality, "dominant", "backdoor", "1", p.goal is not None and p.goal.cls == MIN, "b7")
        return Label(function, "backdoor", _way(p))
    if p.move == PLAGAL and p.goal_degree == 0:
        return _plain(p, "colour", "blues" if p.mode != MINOR else "diatonic", "plagal")
    return _astray(p)


DECEPTIVE = frozenset({(9, MIN), (4, MIN), (5, MAJ), (5, MIN), (8, MAJ), (6, HALF)})
"""What 5 goes to instead of 1 (Mulholland & Hojnacki 2013, appendix): 6, 3, 4, minor 4, flat 6, sharp 4."""


def _turns_away(p: Place) -> bool:
    """5 followed by a chord in place of 1, which is not itself the ii of a new cadence."""
    if p.degree != 7 or p.direct or p.after is None or p.after_prepares:
        return False
    return ((p.after.root - p.tonic) % 12, p.after.cls) in DECEPTIVE


def _resolving(p: Place) -> Label:
    """A dominant or substitute that reaches its goal."""
    target, minor = _target(p)
    goal = p.goal
    sub = p.move == TRITONE
    of = "sub5" if sub else "5"
    if sub:
        kind, rule = "tritone-substitute", "tritone"
    elif p.cls == AUG:
        kind, rule = "augmented-dominant", "augmented"
    elif p.goal_degree == 0 and goal is not None and goal.cls not in DOMINANTS:
        kind, rule = "diatonic", "dominant"
    elif goal is not None and goal.cls in DOMINANTS and p.goal_degree not in (0, 7):
        kind, rule = "dominant-chain", "chain"
    else:
        kind, rule = ("diatonic", "dominant") if p.goal_degree == 0 else ("applied", "applied")
    degree = spell(p.degree, p.cls, False)
    if _put_off(p):
        function = Function(degree, p.quality, "dominant", "deceptive", target, minor, of)
        return Label(function, "put-off", "deceptive", p.goal_degree)
    rule = "taken-up" if p.again and not p.direct else rule
    return Label(Function(degree, p.quality, "dominant", kind, target, minor, of), rule, _way(p))


def _put_off(p: Place) -> bool:
    """5 of the key whose 1 comes later, and the next chord takes the place of 1, though it sets out again itself."""
    if p.degree != 7 or p.goal_degree != 0 or p.direct or p.after is None or p.move != FIFTH:
        return False
    return ((p.after.root - p.tonic) % 12, p.after.cls) in DECEPTIVE | {(4, HALF)}


def _astray(p: Place) -> Label:
    """A dominant that does not go where it promises."""
    aim = (p.degree + 5) % 12
    degree = spell(p.degree, p.cls, False)
    minor = (aim, MIN) in DIATONIC[p.mode]
    known = minor or (aim, MAJ) in DIATONIC[p.mode]
    if p.degree == 7:
        function = Function(degree, p.quality, "dominant", "deceptive", "1", p.mode == MINOR, "5")
        return Label(function, "deceptive", "deceptive", aim)
    if p.degree == 10 and not known:
        return Label(Function("b7", p.quality, "dominant", "unresolved", "1", False, "b7"), "unresolved", _way(p), 0)
    if (p.degree, p.cls) in BORROWED[p.mode] | DIATONIC[p.mode] and p.degree in (0, 5):
        return _plain(p, "colour", "blues", "blues-colour")
    if known:
        function = Function(degree, p.quality, "dominant", "deceptive", spell(aim, MIN, False), minor, "5")
        return Label(function, "deceptive", "deceptive", aim)
    kind = _member(p)
    approach = p.goal is not None and p.goal.cls == p.cls and (p.goal_degree - p.degree) % 12 in (1, 11)
    if approach:
        return _plain(p, "passing", "chromatic-approach", "approach")
    return _plain(p, "colour", kind, {"diatonic": "diatonic", "interchange": "interchange"}.get(kind, "chromatic"))


def _supertonic(p: Place) -> Label:
    """A minor or half-diminished chord before its dominant; 1 itself, when a dominant has just led to it, is home first."""
    if p.degree == 0 and p.arrived and p.cls == MIN and p.mode == MINOR:
        return _plain(p, "tonic", "diatonic", "local-rest", "none")
    ahead = p.ahead if p.ahead is not None else (p.goal_degree + 5) % 12
    round_to_three = p.degree == 5 and p.goal_degree == 10 and ahead == 3 and p.then == (4, MIN) and p.mode != MINOR
    if p.ahead_back or round_to_three:
        minor = p.mode == MINOR
        return _plain(p, "predominant", _member(p), "predominant" if minor else "backdoor-four")
    if p.ahead_sub and p.move == SUPERTONIC and p.degree != 2:
        return _plain(p, "predominant", "related-ii", "substitute-ii")
    rule = "chromatic-ii" if p.move == CHROMATIC_II else "supertonic"
    own = p.degree == 2 or ((p.degree, p.cls) in DIATONIC[p.mode] and p.degree in (4, 9, 5))
    if own and not (p.degree == 5 and ahead != 0):
        kind = _member(p) if p.degree != 2 or (2, p.cls) in DIATONIC[p.mode] else "interchange"
        return _plain(p, "predominant", kind, rule)
    if p.move == CHROMATIC_II and (p.degree - ahead) % 12 != 2:
        return _plain(p, "predominant", "chromatic-approach", "chromatic-approach")
    target = spell(ahead, MIN if p.ahead_minor else MAJ, False)
    function = Function(spell(p.degree, p.cls, False), p.quality, "predominant", "related-ii", target, p.ahead_minor, "2")
    return Label(function, "related-ii", _way(p), ahead)


def _auxiliary(p: Place, resolution: str | None = None) -> Label:
    """A diminished chord beside another chord on its own root."""
    return _plain(p, "passing", "auxiliary-diminished", "auxiliary", resolution)._replace(aim=p.degree)


def _slides_down(p: Place) -> bool:
    """A diminished chord a semitone above what comes next: above its goal, or above a minor chord before it."""
    if p.after is None or (p.degree + p.tonic - p.after.root) % 12 != 1:
        return False
    return p.direct or p.after.cls in (MIN, HALF)


def _diminished(p: Place) -> Label:
    rise = (p.goal_degree - p.degree) % 12
    before = p.before
    stepped = before is not None and (p.degree + p.tonic - before.root) % 12 == 1
    if _slides_down(p):
        return _plain(p, "passing", "passing-diminished", "passing-down")._replace(aim=(p.degree - 1) % 12)
    if p.move == LEADING:
        if p.goal_degree == 0:
            return _plain(p, "dominant", "leading-diminished", "leading", rising=False)
        if stepped:
            return _plain(p, "dominant", "passing-diminished", "passing-up", rising=True)
        return _plain(p, "dominant", "leading-diminished", "leading", rising=True)
    if p.after is not None and p.after.root == (p.degree + p.tonic) % 12:
        return _auxiliary(p)
    if before is not None and before.root == (p.degree + p.tonic) % 12:
        return _auxiliary(p)
    if rise % 3 == 1:
        rule = "leading" if rise == 1 else "leading-turned"
        return _plain(p, "dominant", "leading-diminished", rule, rising=rise == 1)
    return _plain(p, "passing", "common-tone-diminished", "common-tone")


_FAMILIES = {0: "tonic", 4: "tonic", 9: "tonic", 3: "tonic", 2: "predominant", 5: "predominant", 8: "predominant",
             1: "predominant", 6: "predominant"}  # fmt: skip


def _other(p: Place) -> Label:
    """A chord at rest, or a chord of the key, that moves on without being a dominant or its ii."""
    assert p.goal is not None
    kind = _member(p)
    if p.degree == 0 and p.cls in STABLE and ((p.cls == MIN) == (p.mode == MINOR) or p.arrived):
        return _plain(p, "tonic", "diatonic" if kind == "diatonic" else kind, "local-rest" if p.arrived else "rest")
    if p.move == PLAGAL and p.goal_degree == 0:
        borrowed = p.cls == MIN and p.mode != MINOR
        return _plain(p, "colour", "interchange" if borrowed else "plagal", "minor-plagal" if borrowed else "plagal")
    leads = p.goal.cls in DOMINANTS
    if leads and _FAMILIES.get(p.degree) == "predominant":
        return _plain(p, "predominant", kind, "predominant")
    if kind == "chromatic" and p.goal.cls == p.cls and (p.goal_degree - p.degree) % 12 in (1, 11):
        return _plain(p, "passing", "chromatic-approach", "approach")
    if kind == "diatonic":
        if (p.goal_degree - p.degree) % 12 == 5:
            return _plain(p, _FAMILIES.get(p.degree, "colour"), kind, "fifths")
        role = _FAMILIES.get(p.degree, "colour")
        return _plain(p, role, kind, "tonic-family" if role == "tonic" and p.degree else "diatonic")
    role = "predominant" if leads else "colour"
    return _plain(p, role, kind, "interchange" if kind == "interchange" else "chromatic")


def is_blues(bones: Skeleton) -> bool:
    """Whether the tonic of the tune is a dominant seventh at rest, with a 4 of the same kind."""
    tonic, mode = bones.home
    if mode == MINOR:
        return False
    held = {True: 0.0, False: 0.0}
    four = False
    for chord in bones.chords:
        if chord.root == tonic and chord.cls in (MAJ, DOM, SUS):
            held[chord.cls == DOM] += chord.duration
        four = four or (chord.root == (tonic + 5) % 12 and chord.cls == DOM)
    return four and held[True] > held[False]
