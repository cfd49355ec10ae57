"""From the skeleton to functions: what each chord is called in its key, and by which rule.

Everything here works with semitones above the local tonic; degrees are spelled by use (``#4`` for a rising
diminished chord, ``b5`` for a falling substitute), not by how the chart spells the root.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from tunes.harmony.analysis.home_key.home import MINOR
from tunes.harmony.analysis.key_areas.tables import BORROWED, DIATONIC
from tunes.harmony.analysis.naming.beside import narrow_fifth, retold, round_the_circle, steps_down
from tunes.harmony.analysis.naming.dominants import dominant, left_open, promised, promised_minor
from tunes.harmony.analysis.naming.label import Label, in_key, member, plain, spell, way
from tunes.harmony.analysis.naming.places import Place
from tunes.harmony.analysis.preparation.skeleton import Skeleton
from tunes.harmony.analysis.relations import CHROMATIC_II, LEADING, PLAGAL, SUPERTONIC
from tunes.harmony.analysis.sounds import DIM, DOM, DOMINANTS, HALF, MAJ, MIN, STABLE, SUS
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.rule_ids import RuleId

SETTLED = frozenset(
    {
        RuleId.REST,
        RuleId.TONIC_FAMILY,
        RuleId.DIATONIC,
        RuleId.PLAGAL,
        RuleId.MINOR_PLAGAL,
        RuleId.COMMON_TONE,
        RuleId.BLUES_REST,
        RuleId.SEVENTH_REST,
    }
)
"""Rules by which a chord is where it is, not on its way: no resolution is drawn."""
LANDING = frozenset(
    {
        RuleId.LOCAL_REST,
        RuleId.PREDOMINANT,
        RuleId.INTERCHANGE,
        RuleId.CHROMATIC,
        RuleId.FIFTHS,
        RuleId.DIATONIC,
        RuleId.TO_FLAT_SEVEN,
    }
)
"""Rules of chords that count as landed when a dominant has just led to them."""


_OUTSIDE_A_BLUES = {RuleId.BLUES_REST: RuleId.SEVENTH_REST, RuleId.BLUES_FOUR: RuleId.BLUES_COLOUR}
"""Sevenths at home where the tune is no blues: the same sound, told without it."""
_LEADING_UP = frozenset({RuleId.SUPERTONIC, RuleId.CHROMATIC_II, RuleId.PREDOMINANT})


_FALLING_FOURS = frozenset({RuleId.TO_THREE, RuleId.STEPS_DOWN})
_FOURS = frozenset({RuleId.PLAGAL, RuleId.MINOR_PLAGAL, RuleId.BLUES_FOUR, RuleId.BLUES_COLOUR}) | _FALLING_FOURS


@lru_cache(maxsize=65_536)
def label(p: Place) -> Label:
    """The function of a chord where it stands, and whether it is on its way. A 4 that falls back to 1 or to 3, or stands with its
    flat 7 for colour, is a subdominant (Nettles & Graf 1997)."""
    found = _of_home(p)
    if p.degree != 5:
        return found
    falls = found.rule in _FALLING_FOURS and found.function.role == "predominant"
    if falls or (found.rule in _FOURS and found.function.role == "colour"):
        return found._replace(function=replace(found.function, role="subdominant"))
    return found


def _of_home(p: Place) -> Label:
    found = _label(p)
    if not p.blues and found.rule in _OUTSIDE_A_BLUES:
        found = found._replace(rule=_OUTSIDE_A_BLUES[found.rule])
    if found.rule == RuleId.LOCAL_REST and p.at_home:
        found = found._replace(rule=RuleId.REST)
    here, settled = found.rule == RuleId.PREDOMINANT and not p.direct and _here(p), _settled(p, found)
    here = here or _begins_anew(p, found)
    if found.resolution in ("direct", "delayed") and (here or settled):
        if found.rule == RuleId.PREDOMINANT and not _lands(p, found):
            kind = found.function.kind
            found = found._replace(rule=RuleId(kind) if kind in ("interchange", "chromatic") else RuleId.DIATONIC)
        found = found._replace(resolution="none" if settled else "onward")
    if found.rule in _LEADING_UP and p.again and found.resolution == "delayed":
        found = found._replace(rule=RuleId.TAKEN_UP)
    if (
        found.resolution in ("none", "onward")
        and found.function.role in ("colour", "predominant")
        and _arrival(p, found)
    ):
        return _landed(p, found)
    if found.rule == RuleId.PREDOMINANT and found.function.kind == "interchange":
        return found._replace(rule=RuleId.PREDOMINANT_BORROWED)
    return as_it_is(p, retold(p, found))


def as_it_is(p: Place, found: Label) -> Label:
    """No chord is told as of the key that has a note from outside it, none as moving on that only changes on its root, and
    no step as of the circle of the key that leaves it."""
    if found.rule == RuleId.DIATONIC and not in_key(p):
        kind = "interchange" if (p.degree, p.cls) == (10, MAJ) else "chromatic"
        found = found._replace(rule=RuleId(kind), function=replace(found.function, kind=kind))
    if _leads_to_no_five(p, found):
        found = found._replace(resolution="onward", function=replace(found.function, role="colour"))
    if found.rule in (RuleId.DIATONIC, RuleId.CHROMATIC) and p.after is not None and p.after.root == p.degree:
        return found._replace(rule=RuleId.TURNS_SEVENTH if p.after.cls == DOM else RuleId.TURNS)
    if found.rule == RuleId.FIFTHS and p.goal is not None and p.goal not in DIATONIC[p.mode]:
        return found._replace(rule=RuleId.FIFTHS_OUT)
    return found


def _leads_to_no_five(p: Place, found: Label) -> bool:
    """Whether a borrowed or foreign chord stands before a dominant other than 5 or its substitute: a colour, it prepares nothing."""
    bare = found.rule in (RuleId.INTERCHANGE, RuleId.CHROMATIC) and found.resolution == "direct"
    return bare and p.goal is not None and p.goal.cls in DOMINANTS and p.goal_degree not in (1, 7)


def _landed(p: Place, found: Label) -> Label:
    """A run lands here; what the chord is in its key stays: 4, 2, flat 6 and flat 7 are subdominant, 5 is dominant
    (Nettles & Graf 1997)."""
    role = {"tonic": "tonic", "predominant": "subdominant", "dominant": "dominant"}.get(
        _LANDED_FAMILIES.get(p.degree, ""), "colour"
    )
    rule = RuleId.LANDED_FOUR if role == "subdominant" else RuleId.LANDED
    return found._replace(function=replace(found.function, role=role), rule=rule)


def _arrival(p: Place, found: Label) -> bool:
    """A chord at rest to which a dominant has just led counts as landed, whatever else it is."""
    return p.arrived and p.cls in STABLE and found.rule not in (RuleId.BLUES_FOUR, RuleId.BLUES_COLOUR, RuleId.VAMP)


def _settled(p: Place, found: Label) -> bool:
    if found.rule in SETTLED and p.cls not in DOMINANTS:
        return True
    if (
        found.rule == RuleId.PREDOMINANT
        and not p.direct
        and not p.arrived
        and (p.goal_degree != 7 or _falls_to_three(p))
    ):
        return True
    if found.rule == RuleId.PASSING_STEP or (
        found.rule in (RuleId.PLAGAL, RuleId.BLUES_FOUR, RuleId.BLUES_COLOUR) and p.goal_degree == 0
    ):
        return True
    return _lands(p, found)


def _here(p: Place) -> bool:
    """Whether a chord before a dominant far ahead belongs where it stands: it turns minor, goes round the circle of the
    key, or the next chord goes somewhere else; the music goes on to the dominant from there."""
    by_four = p.degree == 2 and p.goal_degree == 10
    return not p.joins or p.after == (p.degree, MIN) or by_four or round_the_circle(p) or steps_down(p)


def _begins_anew(p: Place, found: Label) -> bool:
    """A major chord to which a dominant has led, before a new run: 4 on its way to a dominant further off, or by the narrow fifth."""
    if not p.arrived or p.cls != MAJ:
        return False
    return (found.rule == RuleId.PREDOMINANT and not p.direct) or (found.rule == RuleId.NARROW_FIFTH and p.degree == 5)


def _falls_to_three(p: Place) -> bool:
    """4 that steps back to 3 before anything else: it belongs to the tonic, not to the dominant far ahead."""
    return p.degree == 5 and p.after is not None and p.after.root == 4 and p.after.cls == MIN


def _lands(p: Place, found: Label) -> bool:
    """A chord at rest that a dominant has just led to: the run has landed, whatever comes next."""
    if not p.arrived or found.rule not in LANDING:
        return False
    if found.rule == RuleId.DIATONIC:
        return p.cls in STABLE
    return p.cls == MAJ and (p.direct or not p.sure)


def _label(p: Place) -> Label:
    if p.vamp and not (p.blues and p.cls == DOM) and not _cadential(p) and not _flat_six_of_minor(p):
        return _vamp(p)
    if _steps(p):
        return plain(p, "passing", member(p), RuleId.PASSING_STEP)
    if p.goal is None:
        return _at_rest(p)
    if p.cls == DIM:
        return _diminished(p)
    if p.cls in DOMINANTS:
        return dominant(p)
    if p.sliding:
        return plain(p, "tonic" if _comes_from_five(p) else "passing", member(p), RuleId.SLIDE)
    if p.neighbour and p.degree in (1, 8, 11) and not _flat_six_of_minor(p):
        return plain(p, "tonic", member(p), RuleId.NEIGHBOUR, "none")
    if p.move in (SUPERTONIC, CHROMATIC_II):
        return _supertonic(p)
    return _other(p)


def _comes_from_five(p: Place) -> bool:
    """Whether 5, or a dominant of its own, has just led to a chord: it stands there before it slides on."""
    five = p.before is not None and p.before.root == 7 and p.before.cls in (DOM, SUS)
    return five or p.arrived


def _flat_six_of_minor(p: Place) -> bool:
    """Flat 6 as a major chord in a major key is borrowed, also where it goes to and fro with 1."""
    return (p.degree, p.cls) == (8, MAJ) and p.mode != MINOR


def _cadential(p: Place) -> bool:
    """The dominant of the key, the ii before it and 4 before it go round as a cadence, not as a vamp."""
    if p.degree == 5 and p.after is not None and p.after.root == 7 and p.after.cls in (DOM, SUS):
        return True
    return p.cls == DIM or (p.cls in DOMINANTS and p.degree in (1, 7, 10)) or (p.cls in (MIN, HALF) and p.degree == 2)


def _vamp(p: Place) -> Label:
    if p.degree == 0:
        return plain(p, "tonic", "diatonic" if (p.cls == MIN) == (p.mode == MINOR) else member(p), RuleId.REST, "none")
    return plain(p, "colour", "vamp", RuleId.VAMP, "none")


def _steps(p: Place) -> bool:
    """2 between 1 and 3, in either direction: a chord of the key stepped through, all three at rest."""
    if p.before is None or p.after is None or p.degree != 2 or p.cls != MIN:
        return False
    ends = {p.before.root, p.after.root}
    return ends in ({0, 4}, {0, 3}) and p.before.cls in STABLE and p.after.cls in STABLE


def _at_rest(p: Place) -> Label:
    if p.cls == DIM:
        return _auxiliary(p, "none")
    if p.degree != 0:
        kind = member(p)
        if p.cls == SUS:
            return plain(p, "colour", kind, RuleId.SUSPENDED_COLOUR, "none")
        if (
            (p.degree, p.cls) == (2, MIN)
            and p.mode != MINOR
            and p.after is not None
            and p.after in ((7, DOM), (7, SUS))
        ):
            return plain(p, "predominant", kind, RuleId.DIATONIC, "none")
        if p.cls == DOM and (p.degree, p.cls) in BORROWED[p.mode]:
            return plain(p, "colour", "blues" if p.degree == 5 else kind, RuleId.BLUES_COLOUR, "none")
        return plain(p, "colour", kind, RuleId(kind), "none")
    if p.cls == DOM and p.has_ii and not p.blues:
        return left_open(p, "1", 5)
    if p.cls == DOM:
        return plain(p, "tonic", "blues", RuleId.BLUES_REST, "none")
    if p.cls == SUS:
        return plain(p, "tonic", "diatonic", RuleId.SUSPENDED_HOME, "none")
    other = (p.cls == MIN) != (p.mode == MINOR)
    rule = RuleId.LOCAL_REST if p.arrived and not p.at_home else RuleId.REST
    return plain(p, "tonic", "interchange" if other else "diatonic", rule, "none")


def _supertonic(p: Place) -> Label:
    """A minor or half-diminished chord before its dominant; 1 itself, when a dominant has just led to it, is home first."""
    if p.degree == 0 and p.arrived and p.cls == MIN and p.mode == MINOR:
        return plain(p, "tonic", "diatonic", RuleId.LOCAL_REST, "onward")
    ahead = p.ahead if p.ahead is not None else (p.goal_degree + 5) % 12
    round_to_three = p.degree == 5 and p.goal_degree == 10 and ahead == 3 and p.then == (4, MIN) and p.mode != MINOR
    if p.ahead_back or round_to_three:
        minor = p.mode == MINOR
        return plain(p, "predominant", member(p), RuleId.PREDOMINANT if minor else RuleId.BACKDOOR_FOUR)
    ahead_minor = p.ahead_minor
    if p.move == SUPERTONIC and p.exchanged is not None and promised(p.exchanged, p.mode):  # the 5 keeps its name
        ahead, ahead_minor = p.exchanged, promised_minor(p.exchanged, p.mode)
    elif p.ahead_sub and p.move == SUPERTONIC and p.degree != 2:
        return plain(p, "predominant", "related-ii", RuleId.SUBSTITUTE_II)
    rule = RuleId.CHROMATIC_II if p.move == CHROMATIC_II else RuleId.SUPERTONIC
    own = p.degree == 2 or ((p.degree, p.cls) in DIATONIC[p.mode] and p.degree in (4, 9, 5))
    raised_sixth = p.quality == "m6" and p.degree in (4, 9) and p.mode != MINOR  # a note from outside the key
    two_of_five = p.mode == MINOR and (p.degree, ahead) == (9, 7)  # heard with the dominant that it brings
    if own and not (p.degree == 5 and ahead != 0) and not raised_sixth and not two_of_five:
        kind = member(p) if p.degree != 2 or (2, p.cls) in DIATONIC[p.mode] else "interchange"
        return plain(p, "predominant", kind, rule)
    if p.move == CHROMATIC_II and (p.degree - ahead) % 12 != 2:
        return plain(p, "predominant", "chromatic-approach", RuleId.CHROMATIC_APPROACH)
    target = spell(ahead, MIN if ahead_minor else MAJ, False)
    function = Function(spell(p.degree, p.cls, False), p.quality, "predominant", "related-ii", target, ahead_minor, "2")
    return Label(function, rule if p.move == CHROMATIC_II else RuleId.RELATED_II, way(p), ahead)


def _auxiliary(p: Place, resolution: str | None = None) -> Label:
    """A diminished chord beside another chord on its own root."""
    return plain(p, "passing", "auxiliary-diminished", RuleId.AUXILIARY, resolution)._replace(aim=p.degree)


def _slides_down(p: Place) -> bool:
    """A diminished chord a semitone above what comes next: above its goal, or above a minor chord before it."""
    if p.after is None or (p.degree - p.after.root) % 12 != 1:
        return False
    return p.direct or p.after.cls in (MIN, HALF) or (p.degree == 3 and p.after.cls == DOM)


def _diminished(p: Place) -> Label:
    rise = (p.goal_degree - p.degree) % 12
    before = p.before
    stepped = before is not None and (p.degree - before.root) % 12 == 1
    if _slides_down(p):
        return plain(p, "passing", "passing-diminished", RuleId.PASSING_DOWN)._replace(aim=(p.degree - 1) % 12)
    if p.move == LEADING:
        if p.goal_degree == 0:
            return plain(p, "dominant", "leading-diminished", RuleId.LEADING, rising=False)
        if stepped and not p.direct:
            return plain(p, "dominant", "leading-diminished", RuleId.LEADING_DELAYED, rising=True)
        if stepped:
            return plain(p, "dominant", "passing-diminished", RuleId.PASSING_UP, rising=True)
        return plain(p, "dominant", "leading-diminished", RuleId.LEADING, rising=True)
    if p.after is not None and p.after.root == p.degree:
        return _auxiliary(p)
    if before is not None and before.root == p.degree:
        return _auxiliary(p)
    if rise % 3 == 1:
        rule = RuleId.LEADING if rise == 1 else RuleId.LEADING_TURNED
        return plain(p, "dominant", "leading-diminished", rule, rising=rise == 1)
    return plain(p, "passing", "common-tone-diminished", RuleId.COMMON_TONE)


_FAMILIES = {0: "tonic", 4: "tonic", 9: "tonic", 3: "tonic", 2: "predominant", 5: "predominant", 8: "predominant",
             1: "predominant", 6: "predominant"}  # fmt: skip


def _other(p: Place) -> Label:
    """A chord at rest, or a chord of the key, that moves on without being a dominant or its ii."""
    assert p.goal is not None
    kind = member(p)
    if p.degree == 0 and p.cls in STABLE and ((p.cls == MIN) == (p.mode == MINOR) or p.arrived or p.before is None):
        return plain(
            p, "tonic", "diatonic" if kind == "diatonic" else kind, RuleId.LOCAL_REST if p.arrived else RuleId.REST
        )
    if p.move == PLAGAL and p.goal_degree == 0:
        borrowed = p.cls == MIN and p.mode != MINOR
        return plain(
            p, "colour", "interchange" if borrowed else "plagal", RuleId.MINOR_PLAGAL if borrowed else RuleId.PLAGAL
        )
    leads = p.goal.cls in DOMINANTS
    if p.direct and leads and (p.degree, p.cls) in ((5, MAJ), (2, MIN)) and p.goal_degree == 10 and p.mode != MINOR:
        return plain(p, "predominant", kind, RuleId.TO_FLAT_SEVEN)
    if (
        leads and p.direct and p.ahead == p.degree and kind == "diatonic"
    ):  # its own dominant holds it: nothing is prepared
        return plain(p, _FAMILIES.get(p.degree, "colour"), kind, RuleId.DIATONIC)
    if leads and _FAMILIES.get(p.degree) == "predominant" and (p.degree, p.cls) != (6, MAJ):
        return plain(p, "predominant", kind, RuleId.PREDOMINANT)
    if kind == "chromatic" and p.goal.cls == p.cls and (p.goal_degree - p.degree) % 12 in (1, 11):
        return plain(p, "passing", "chromatic-approach", RuleId.APPROACH)
    if kind == "diatonic":
        if p.direct and narrow_fifth(p):
            return plain(p, "predominant", kind, RuleId.NARROW_FIFTH)
        if p.direct and (p.goal_degree - p.degree) % 12 == 5:
            on = (
                _FAMILIES.get(p.degree) == "tonic" and not p.arrived
            )  # 3 or 6 on its way round the circle is not at rest
            return plain(p, "predominant" if on else _FAMILIES.get(p.degree, "colour"), kind, RuleId.FIFTHS)
        role = _FAMILIES.get(p.degree, "colour")
        return plain(p, role, kind, RuleId.TONIC_FAMILY if role == "tonic" and p.degree else RuleId.DIATONIC)
    role = "predominant" if leads and p.degree not in (6, 7) else "colour"
    return plain(p, role, kind, RuleId(kind))


_LANDED_FAMILIES = {**_FAMILIES, 10: "predominant", 7: "dominant"}
"""Flat 7 at rest has the sound of minor 4; 5 at rest is a half cadence."""


def is_blues(bones: Skeleton) -> bool:
    """Whether the tonic of the tune is a dominant seventh at rest, with a 4 of the same kind, or the form is a twelve-bar blues:
    twelve bars (or as many doubled) with 4 as a seventh in bar 5."""
    tonic, mode = bones.home
    if mode == MINOR:
        return False
    held = {True: 0.0, False: 0.0}
    four = False
    for chord in bones.chords:
        if chord.root == tonic and chord.cls in (MAJ, DOM, SUS):
            held[chord.cls == DOM] += chord.duration
        four = four or (chord.root == (tonic + 5) % 12 and chord.cls == DOM)
    return four and (held[True] > held[False] or _twelve_bars(bones))


def _twelve_bars(bones: Skeleton) -> bool:
    """Whether the form has the length of a blues and goes to 4 where a blues does."""
    last = bones.chords[-1]
    bars = (last.onset + last.duration) / bones.beats
    fifth = bars / 12 * 4 * bones.beats  # where bar 5 begins, or bar 9 of a form that is doubled
    return bars in (12, 24) and any(
        chord.onset <= fifth < chord.onset + chord.duration
        and chord.cls == DOM
        and (chord.root - bones.home[0]) % 12 == 5
        for chord in bones.chords
    )
