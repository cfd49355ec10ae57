"""Which second readings of a chord are worth a word: those that somebody hears, and that are true of the chords.

A second reading is a label in another key, or in the same key with another goal.  It is left out when it promises what does not
come: a 2 whose dominant does not follow, a dominant whose goal lies far off or outside the key, a home in the other mode.
Common practice, no single source; the margins are ours.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from tunes.harmony.analysis.key_areas.cadences import KeyPc, key_of
from tunes.harmony.analysis.key_areas.tables import DIATONIC, MARGIN_OPEN, REST_DEGREES
from tunes.harmony.analysis.naming.label import Label, semitones_of
from tunes.harmony.analysis.preparation.skeleton import TOP, Skeleton
from tunes.harmony.analysis.sounds import DIM, DOMINANTS, MAJ, MIN, STABLE
from tunes.harmony.readings.landing import LANDED
from tunes.harmony.readings.rule_ids import RuleId

MOST_MARGIN = 3.0
"""The home key of a tune is heard behind another; what costs more than this is not."""
MOST_LED = 4.0
"""The same for a dominant in the home key, its 2, and the chord they lead to: 2 5 of flat 6, whatever key it touches."""
MOST_AWAY = 1.5
"""A key that is neither home nor the first reading's is heard only when it is close."""
MOST_SUBSTITUTE = 1.0
"""A substitute of another key is heard only where that key is close."""
_NEAR = 3
"""So many places on a goal is still heard to be reached: a passing 2 and 5 may stand before it."""
_TWOS = frozenset(
    {
        RuleId.RELATED_II,
        RuleId.SUBSTITUTE_II,
        RuleId.SUPERTONIC,
        RuleId.CHROMATIC_II,
        RuleId.CHROMATIC_APPROACH,
        RuleId.BACKDOOR_FOUR,
    }
)
_TO_COME = frozenset({RuleId.APPLIED, RuleId.DOMINANT, RuleId.CHAIN, RuleId.TRITONE, RuleId.AUGMENTED})
_STRANGE = frozenset({"interchange", "chromatic", "chromatic-approach"})


class Heard(NamedTuple):
    """A chord heard in a key: the skeleton with the goals that are meant, where it stands, and the labels in that key."""

    bones: Skeleton
    at: int
    key: KeyPc
    labels: Sequence[Label]


def near_enough(margin: float, home: bool, found: Label) -> bool:
    """Whether a reading in a key so far behind the first is still heard; `home` when it is the key of the tune."""
    if found.function.of == "sub5":
        return margin <= MOST_SUBSTITUTE
    if not home:
        return margin <= MOST_AWAY
    led = found.function.kind in ("applied", "related-ii") or found.rule in LANDED
    return margin <= (MOST_LED if led else MOST_MARGIN)


def as_heard(found: Label, heard: Heard, margin: float, arrived: bool) -> Label:
    """A reading as it is told in another key than the first: 1 is not said to rest there, and a pivot, which the other key
    would take up again, is a chord of that key."""
    chord = heard.bones.chords[heard.at]
    if found.rule == RuleId.REST:
        return found._replace(rule=RuleId.HEARD_AS_ONE)
    member = ((chord.root - heard.key[0]) % 12, chord.cls) in DIATONIC[heard.key[1]]
    if found.rule == RuleId.TAKEN_UP and member and found.function.of is None and not arrived and margin <= MARGIN_OPEN:
        return found._replace(rule=RuleId.DIATONIC, resolution="none")
    return found


def holds(heard: Heard, found: Label) -> bool:
    """Whether what a reading says comes true in the chords."""
    chord, rule = heard.bones.chords[heard.at], found.rule
    if rule in (RuleId.HEARD_AS_ONE, RuleId.LOCAL_REST) and chord.cls in STABLE and key_of(chord) != heard.key:
        return False
    if rule in (RuleId.VAMP, RuleId.DECEPTIVE) and chord.cls in DOMINANTS:
        return False
    if not _aims_inside(found, heard.key):
        return False
    return (
        _dominant_follows(heard)
        if rule in _TWOS or found.function.of == "2"
        else rule not in _TO_COME or _near_goal(heard)
    )


def adds(found: Label, chosen: Label, away: bool) -> bool:
    """Whether a reading in another key says something that a listener would hear beside the first; `away` when that key is
    not the home key."""
    if found.rule == RuleId.TAKEN_UP or (found.rule == RuleId.BLUES_COLOUR and chosen.function.of is not None):
        return False  # nobody hears at rest what has just resolved
    if chosen.rule in (RuleId.PASSING_UP, RuleId.PASSING_DOWN):
        return False  # a passing chord is what its neighbours make of it, in every key
    if found.rule == RuleId.SUBSTITUTE_II or _far_substitute(found):
        return False  # such a substitute, and its 2, are that in their first key only
    return not (away and found.function.kind in _STRANGE)


def _far_substitute(found: Label) -> bool:
    """A substitute that leads neither to 1 or 5 nor to a minor chord of the key."""
    function = found.function
    return function.of == "sub5" and not function.target_minor and semitones_of(function.target or "1") not in (0, 7)


def _aims_inside(found: Label, key: KeyPc) -> bool:
    """Whether what a dominant or its 2 promises is a chord that may rest in the key, or 5 itself."""
    if found.function.of not in ("2", "5", "sub5"):
        return True
    aim = semitones_of(found.function.target or "1")
    return aim in (0, 7) or any((aim, cls) in REST_DEGREES[key[1]] for cls in (MAJ, MIN))


def _dominant_follows(heard: Heard) -> bool:
    """Whether the next chord is the dominant of a 2: a fifth or a semitone below, and heard as one in the same key."""
    chords = heard.bones.chords
    at = (heard.at + 1) % len(chords)
    chord, then = chords[heard.at], chords[at]
    if then.cls not in DOMINANTS or (then.root - chord.root) % 12 not in (5, 11) or then.cls == DIM:
        return False
    return heard.labels[at].function.role == "dominant" and _aims_inside(heard.labels[at], heard.key)


def _near_goal(heard: Heard) -> bool:
    goal = heard.bones.goals[heard.at]
    if goal is None:
        return True
    at = len(heard.bones.chords) if goal == TOP else goal
    return at - heard.at <= _NEAR
