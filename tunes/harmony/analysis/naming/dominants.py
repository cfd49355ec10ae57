"""The naming of dominants: where they go, what stands in their goal's place, and which ask for nothing."""

from __future__ import annotations

from tunes.harmony.analysis.home_key.home import MINOR
from tunes.harmony.analysis.key_areas.tables import BORROWED, DIATONIC
from tunes.harmony.analysis.naming.label import Label, member, plain, spell, target_of, way
from tunes.harmony.analysis.naming.places import Place
from tunes.harmony.analysis.relations import BACKDOOR, FIFTH, PLAGAL, TRITONE
from tunes.harmony.analysis.sounds import AUG, DOM, DOMINANTS, HALF, MAJ, MIN
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.rule_ids import RuleId


def dominant(p: Place) -> Label:
    if p.cls == AUG and p.degree == 0 and p.after in ((2, MIN), (9, MIN)) and p.mode != MINOR:
        return plain(p, "tonic", "diatonic", RuleId.RAISED_FIFTH, "onward")
    if p.held_through and p.degree == 7:
        function = Function("5", p.quality, "dominant", "diatonic", "1", p.mode == MINOR, "5")
        return Label(function, RuleId.PROLONGED, "delayed", 0)
    if p.blues and p.degree == 5 and p.move != TRITONE and not _two_five_away(p):
        return plain(p, "colour", "blues", RuleId.BLUES_FOUR)
    if p.blues and p.degree == 0 and p.goal_degree == 5 and not p.has_ii and p.goal is not None and p.goal.cls == DOM:
        return plain(p, "tonic", "blues", RuleId.BLUES_REST, "none")
    four = p.degree == 5 and p.cls == DOM and p.mode != MINOR
    if four and p.arrived and not p.direct and not p.has_ii and not p.again:
        return plain(p, "colour", "blues", RuleId.BLUES_FOUR)
    if _turns_away(p) or _leaves_its_key(p):
        function = Function("5", p.quality, "dominant", "deceptive", "1", p.mode == MINOR, "5")
        return Label(function, RuleId.DECEPTIVE, "deceptive", 0)
    if _back_door_to_three(p):
        function = Function("b7", p.quality, "dominant", "backdoor", "1", False, "b7")
        return Label(function, RuleId.BACKDOOR_THREE, "onward" if p.goal_degree == 9 else "deceptive", 0)
    if p.degree == 5 and p.cls == DOM and p.goal_degree == 10 and p.ahead_back and not p.has_ii and p.direct:
        return plain(p, "predominant", member(p), RuleId.TO_FLAT_SEVEN)
    if p.move in (FIFTH, TRITONE):
        return _resolving(p)
    if p.move == BACKDOOR and p.degree == 10 and p.goal_degree == 0:
        return _from_below(p)
    if p.move == PLAGAL and p.goal_degree == 0:
        return plain(p, "colour", "blues" if p.mode != MINOR else "diatonic", RuleId.PLAGAL)
    return _astray(p)


def _two_five_away(p: Place) -> bool:
    """A dominant with its own 2 before it sets out, whatever degree of a blues it stands on."""
    return p.has_ii and p.cls == DOM


def _back_door_to_three(p: Place) -> bool:
    """Flat 7 before 3, which takes the place of 1, wherever the music goes from there; with its 2 before it and on the way to 6 it
    is the substitute of a chain of 2 5s (common practice, no source)."""
    if p.degree != 10 or p.cls != DOM or p.mode == MINOR or p.direct or p.after != (4, MIN):
        return False
    if p.move not in (FIFTH, TRITONE) or p.goal_degree == 3:
        return True
    return p.goal_degree == 9 and not p.has_ii


def _from_below(p: Place) -> Label:
    """Flat 7 that rises a tone to 1: of the key itself in minor, by the back door in major."""
    minor = p.goal is not None and p.goal.cls == MIN
    if p.mode == MINOR:
        return Label(Function("b7", p.quality, "dominant", "diatonic", "1", minor, "b7"), RuleId.SUBTONIC, way(p))
    if p.direct or p.after is None:
        return Label(Function("b7", p.quality, "dominant", "backdoor", "1", minor, "b7"), RuleId.BACKDOOR, way(p))
    rule = RuleId.BACKDOOR_OPEN if p.after.root in (2, 7) else RuleId.PUT_OFF
    return Label(Function("b7", p.quality, "dominant", "deceptive", "1", minor, "b7"), rule, "deceptive", 0)


DECEPTIVE = frozenset({(9, MIN), (4, MIN), (5, MAJ), (5, MIN), (8, MAJ), (6, HALF)})
"""What 5 goes to instead of 1 (Mulholland & Hojnacki 2013, appendix): 6, 3, 4, minor 4, flat 6, sharp 4."""


def _turns_away(p: Place) -> bool:
    """5 followed by a chord in place of 1, which is not itself the ii of a new cadence."""
    if p.degree != 7 or p.direct or p.after is None or p.after_prepares:
        return False
    return (p.after.root, p.after.cls) in DECEPTIVE


def _leaves_its_key(p: Place) -> bool:
    """The 5 of a key that is only passed through, with its own 2, before a minor sound a semitone below: nobody hears the sharp 4 of
    that key there, the music is in another one."""
    return p.degree == 7 and p.move == TRITONE and p.goal_degree == 6 and p.has_ii and not p.at_home


def _resolving(p: Place) -> Label:
    """A dominant or substitute that reaches its goal."""
    target, minor = target_of(p)
    goal = p.goal
    sub = p.move == TRITONE
    of = "sub5" if sub else "5"
    if sub and _goal_exchanged(p):
        return _for_its_own(p)
    if sub:
        kind, rule = "tritone-substitute", RuleId.TRITONE
    elif p.cls == AUG:
        kind, rule = "augmented-dominant", RuleId.AUGMENTED
    elif p.goal_degree == 0 and goal is not None and goal.cls not in DOMINANTS:
        kind, rule = "diatonic", RuleId.DOMINANT
    elif goal is not None and goal.cls in DOMINANTS and p.goal_degree != 7:
        kind, rule = "dominant-chain" if p.goal_degree else "diatonic", RuleId.CHAIN
    else:
        kind, rule = ("diatonic", RuleId.DOMINANT) if p.goal_degree == 0 else ("applied", RuleId.APPLIED)
    degree = spell(p.degree, p.cls, False)
    if p.move == TRITONE and p.after == (p.degree, MIN) and goal is not None and goal.cls == DOM:
        return _turned_minor(p, degree)
    if _put_off(p):
        if p.after == (p.degree, MIN):
            return _turned_minor(p, degree)
        function = Function(degree, p.quality, "dominant", "deceptive", target, minor, of)
        return Label(function, RuleId.PUT_OFF, "deceptive", p.goal_degree)
    same_root = p.after is not None and p.after.root == p.degree
    if same_root and p.again and not p.direct and p.after is not None and p.after.cls in (MIN, HALF):
        return _turned_minor(p, degree)
    rule = RuleId.TAKEN_UP if p.again and not p.direct and not same_root else rule
    return Label(Function(degree, p.quality, "dominant", kind, target, minor, of), rule, way(p))


def promised(aim: int, mode: str) -> bool:
    """Whether a key has a chord for a dominant to promise on a degree."""
    return any((aim, cls) in DIATONIC[mode] for cls in (MAJ, MIN, DOM))


def promised_minor(aim: int, mode: str) -> bool:
    """Whether the chord of the key that a dominant promises is minor."""
    return (aim, MIN) in DIATONIC[mode] and (aim, DOM) not in DIATONIC[mode]


def _goal_exchanged(p: Place) -> bool:
    """Whether a dominant slips to the substitute of the chord of the key that it promises: 5 of 5 before the substitute of 5. In
    a chain that slips on by semitones, only the first is heard so (Pease, ch. on substitute dominants)."""
    slipping = p.before == ((p.degree + 1) % 12, DOM) and not p.has_ii
    turns = p.after is not None and p.after.root == p.degree
    return p.ahead_sub and p.cls == DOM and not slipping and not turns and promised((p.degree + 5) % 12, p.mode)


def _for_its_own(p: Place) -> Label:
    """A dominant by what it promises, where the substitute of that comes."""
    aim = (p.degree + 5) % 12
    minor = promised_minor(aim, p.mode)
    function = Function(
        spell(p.degree, p.cls, False), p.quality, "dominant", "applied" if aim else "diatonic",
        spell(aim, MIN if minor else MAJ, False), minor, "5",
    )  # fmt: skip
    return Label(function, RuleId.GOAL_EXCHANGED, way(p), aim)


def _turned_minor(p: Place, degree: str) -> Label:
    """A dominant that turns minor: the minor chord takes its root over and sets out from there."""
    aim = (p.degree + 5) % 12
    minor = (aim, MIN) in DIATONIC[p.mode] and aim != 0
    function = Function(
        degree, p.quality, "dominant", "unresolved", spell(aim, MIN, False), minor or (not aim and p.mode == MINOR), "5"
    )
    return Label(function, RuleId.TURNS_MINOR, "onward", aim)


def _put_off(p: Place) -> bool:
    """5 of the key whose 1 comes later, and the next chord takes the place of 1, though it sets out again itself; or
    whose 1 comes only after a new run of chords."""
    if p.degree != 7 or p.goal_degree != 0 or p.direct or p.after is None or p.move != FIFTH:
        return False
    prolonged = p.after.root == 2 and p.after.cls in (MIN, HALF)  # by its own 2: no other chord takes the place of 1
    return (p.after.root, p.after.cls) in DECEPTIVE | {(4, HALF)} or (p.far and not p.again and not prolonged)


def _astray(p: Place) -> Label:
    """A dominant that does not go where it promises."""
    aim = (p.degree + 5) % 12
    degree = spell(p.degree, p.cls, False)
    if p.direct and p.before is not None and p.before == p.after == ((p.degree + 1) % 12, DOM):
        return plain(p, "passing", "chromatic-approach", RuleId.APPROACH)
    minor = (aim, MIN) in DIATONIC[p.mode]
    known = minor or (aim, MAJ) in DIATONIC[p.mode]
    if p.degree == 7:
        function = Function(degree, p.quality, "dominant", "deceptive", "1", p.mode == MINOR, "5")
        return Label(function, RuleId.DECEPTIVE, "deceptive", aim)
    if p.degree == 10 and not known:
        if p.after is None:
            return Label(
                Function("b7", p.quality, "dominant", "unresolved", "1", False, "b7"), RuleId.UNRESOLVED, way(p), 0
            )
        return Label(
            Function("b7", p.quality, "dominant", "deceptive", "1", False, "b7"), RuleId.DECEPTIVE, "deceptive", 0
        )
    if p.degree == 1 and p.cls == DOM and p.after is not None:
        return _substitute_left(p)
    if p.has_ii and p.degree != 1 and p.cls == DOM:
        return left_open(p, degree, aim)
    if (p.degree, p.cls) in BORROWED[p.mode] | DIATONIC[p.mode] and p.degree in (0, 5):
        return plain(p, "colour" if p.degree else "tonic", "blues", RuleId.BLUES_COLOUR)
    if known:
        function = Function(degree, p.quality, "dominant", "deceptive", spell(aim, MIN, False), minor, "5")
        return Label(function, RuleId.DECEPTIVE, "deceptive", aim)
    kind = member(p)
    approach = p.goal is not None and p.goal.cls == p.cls and (p.goal_degree - p.degree) % 12 in (1, 11)
    if approach:
        return plain(p, "passing", "chromatic-approach", RuleId.APPROACH)
    return plain(p, "colour", kind, RuleId(kind))


def left_open(p: Place, degree: str, aim: int) -> Label:
    """The 5 of a 2 5 whose 1 does not come: deceptive where a chord takes its place, left open where a new 2 5 begins."""
    minor = (aim, MIN) in DIATONIC[p.mode]
    open_ = p.goal is None or p.after is None or p.after_prepares or p.after.cls in DOMINANTS
    function = Function(
        degree, p.quality, "dominant", "unresolved" if open_ else "deceptive", spell(aim, MIN, False), minor, "5"
    )
    rule = RuleId.UNRESOLVED if open_ else RuleId.DECEPTIVE
    return Label(function, rule, "onward" if open_ else "deceptive", aim)


def _substitute_left(p: Place) -> Label:
    """The substitute of 5 that does not fall to 1: it gives way to 5 itself, or another chord comes instead."""
    minor = p.mode == MINOR
    if p.after is not None and p.after.root == 7 and p.after.cls in DOMINANTS:
        function = Function("b2", p.quality, "dominant", "tritone-substitute", "1", minor, "sub5")
        return Label(function, RuleId.EXCHANGED, way(p), 0)
    function = Function("b2", p.quality, "dominant", "deceptive", "1", minor, "sub5")
    return Label(function, RuleId.DECEPTIVE, "deceptive", 0)
