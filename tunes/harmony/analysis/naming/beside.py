"""The more telling rule: what a chord that asks for no resolution does with the chords beside it.

A chord that is only borrowed, or only of the key, is told by what one hears: it takes the place of 1, turns minor,
steps down to 3, climbs in the bass, leans on 1 from above, goes round the circle of the key.
"""

from __future__ import annotations

from tunes.harmony.analysis.home_key.home import MAJOR
from tunes.harmony.analysis.key_areas.tables import BORROWED, DIATONIC
from tunes.harmony.analysis.naming.dominants import DECEPTIVE
from tunes.harmony.analysis.naming.label import Label
from tunes.harmony.analysis.naming.places import Place
from tunes.harmony.analysis.sounds import DIM, DOM, HALF, MAJ, MIN, SUS
from tunes.harmony.readings.rule_ids import RuleId

_PLAIN = frozenset({RuleId.INTERCHANGE, RuleId.DIATONIC, RuleId.CHROMATIC, RuleId.COMMON_TONE})
"""Rules that say no more than what the chord is."""


def retold(p: Place, found: Label) -> Label:
    """The label with the rule that says most, where the plain one says little; only the rule changes."""
    if found.rule not in _PLAIN or p.after is None:
        return found
    rule = next((name for name, holds in _TELLING if holds(p)), None)
    if rule is None or (found.rule == RuleId.COMMON_TONE) != (rule == RuleId.CLIMBING_ON):
        return found
    return found._replace(rule=rule)


def _climbs_on(p: Place) -> bool:
    """Sharp 4 diminished that comes up from 4."""
    return p.cls == DIM and p.degree == 6 and p.before is not None and p.before.root == 5


def _climbs(p: Place) -> bool:
    return p.degree == 5 and p.after in ((6, DIM), (6, HALF))


def _turns_minor(p: Place) -> bool:
    return p.cls == MAJ and p.after == (p.degree, MIN)


def _to_three(p: Place) -> bool:
    """Minor 4 that falls to 3, the softened minor plagal."""
    return p.mode == MAJOR and (p.degree, p.cls) == (5, MIN) and p.after == (4, MIN)


def _in_place_of_one(p: Place) -> bool:
    """What comes instead of 1 after 5."""
    before = p.before
    if before is None or before.root != 7 or before.cls not in (DOM, SUS):
        return False
    return (p.degree, p.cls) in DECEPTIVE


def _left_two(p: Place) -> bool:
    """Minor 5 straight before 4: its 2, the 5 between them left out."""
    return p.mode == MAJOR and (p.degree, p.cls) == (7, MIN) and p.after == (5, MAJ)


def _left_two_of_two(p: Place) -> bool:
    """3 half diminished straight before 2."""
    return p.mode == MAJOR and (p.degree, p.cls) == (4, HALF) and p.after == (2, MIN)


def _rootless(p: Place) -> bool:
    """3 half diminished straight before 4: the upper notes of 1 with a flat 7 and a ninth."""
    return (p.degree, p.cls) == (4, HALF) and p.after is not None and p.after.root == 5 and p.after.cls in (MAJ, MIN)


def _rootless_substitute(p: Place) -> bool:
    """A minor sixth, no chord of home, straight before the dominant a major third above: the substitute of what leads there, from
    its third up with its ninth."""
    outside = p.quality == "m6" and (p.degree, p.cls) not in DIATONIC[p.mode] | BORROWED[p.mode]
    return outside and p.direct and p.after == ((p.degree + 4) % 12, DOM)


def _half_plagal(p: Place) -> bool:
    """2 half diminished straight before 1."""
    return (p.degree, p.cls) == (2, HALF) and p.after is not None and p.after.root == 0 and p.after.cls in (MAJ, MIN)


def _side_slip(p: Place) -> bool:
    """A chord outside the key between the same sound on both sides, a semitone away on one and no more than a tone on the other."""
    if not p.alike or (p.degree, p.cls) in DIATONIC[p.mode] or p.before is None or p.after is None:
        return False
    steps = {(p.degree - other.root) % 12 for other in (p.before, p.after)}
    return bool(steps & {1, 11}) and steps <= {1, 2, 10, 11}


def _turns_seventh(p: Place) -> bool:
    same_name = p.degree == 7 and p.quality != "maj7"  # 5 is called 5 with its seventh or without
    return p.cls == MAJ and p.after == (p.degree, DOM) and not same_name


def _leans(p: Place) -> bool:
    return (p.degree, p.cls) == (1, MAJ) and p.after is not None and p.after.root == 0 and p.after.cls in (MAJ, MIN)


def steps_down(p: Place) -> bool:
    """4 or sharp 4 that steps down: to 3, or by way of minor 4."""
    if (p.degree, p.cls) == (5, MAJ):
        return p.after in ((4, MIN), (4, HALF))
    return (p.degree, p.cls) == (6, HALF) and p.after == (5, MIN)


def round_the_circle(p: Place) -> bool:
    """A chord of the key before the chord of the key a fifth below, the narrow fifth among them."""
    if p.after is None:
        return False
    fall = (p.after.root - p.degree) % 12
    here, then = (p.degree, p.cls), (p.after.root, p.after.cls)
    falls = fall == 5 and then in DIATONIC[p.mode]
    return narrow_fifth(p) or (here in DIATONIC[p.mode] and falls and p.after.cls not in (DOM, SUS))


def narrow_fifth(p: Place) -> bool:
    """4 before 7, or flat 6 before 2, half diminished: the one diminished fifth of the circle."""
    if p.after is None or (p.degree, p.cls) not in DIATONIC[p.mode] or (p.degree, p.cls) not in ((5, MAJ), (8, MAJ)):
        return False
    return (p.after.root - p.degree) % 12 == 6 and p.after.cls == HALF


_TELLING = (
    (RuleId.CLIMBING_ON, _climbs_on),
    (RuleId.CLIMBING, _climbs),
    (RuleId.TURNS_MINOR, _turns_minor),
    (RuleId.TURNS_SEVENTH, _turns_seventh),
    (RuleId.TO_THREE, _to_three),
    (RuleId.IN_PLACE, _in_place_of_one),
    (RuleId.LEFT_TWO, _left_two),
    (RuleId.LEFT_TWO_OF_TWO, _left_two_of_two),
    (RuleId.ROOTLESS, _rootless),
    (RuleId.ROOTLESS_SUBSTITUTE, _rootless_substitute),
    (RuleId.HALF_PLAGAL, _half_plagal),
    (RuleId.LEANING, _leans),
    (RuleId.SIDE_SLIP, _side_slip),
    (RuleId.STEPS_DOWN, steps_down),
    (RuleId.NARROW_FIFTH, narrow_fifth),
    (RuleId.CIRCLE, round_the_circle),
)
