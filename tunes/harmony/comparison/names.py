"""What a difference between two versions does, by name.

Sources: substitute dominants and related iis: Pease, *Jazz Composition* (2003) p. 53; diminished chords as rootless dominants
(X°7 is the upper four notes of the 7♭9 chord a semitone below any of its notes): a logical identity; backdoor, interchange
and the rest: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.comparison.cost import is_dominant, is_two

Chords = tuple[ChordSymbol | None, ...]

KINDS: dict[str, str] = {
    "colour": "The same chord with other tensions.",
    "bass": "The same chord over another bass note.",
    "quality": "The same root with another quality.",
    "interchange": "Minor for major or major for minor on the same root.",
    "suspended": "The third held back, or let go.",
    "moved": "The same chords at another time.",
    "same-notes": "Another name for the same notes.",
    "tritone-substitute": "A dominant replaced by the one a tritone away.",
    "tritone-substitute-ii": "A ii replaced by the ii of the substitute dominant.",
    "tritone-substitute-with-ii": "A dominant replaced by the one a tritone away, with its own ii.",
    "backdoor": "The flat-seven dominant instead of the dominant, or the other way round.",
    "backdoor-ii": "The minor iv that goes with the flat-seven dominant instead of the ii, or the other way round.",
    "other-goal": "A dominant, or its ii, that leads to another chord instead.",
    "diminished-for-dominant": "A diminished seventh instead of the dominant whose upper notes it has, or the reverse.",
    "shared-tones": "Another chord that shares most of its notes.",
    "ii-for-v": "The related ii instead of the dominant, or the other way round.",
    "added-related-ii": "The related ii put before a dominant.",
    "added-dominant": "The dominant of the next chord put before it.",
    "added-substitute-dominant": "The tritone substitute of the next chord's dominant put before it.",
    "added-two-five": "A ii and a dominant put before the next chord.",
    "passing-diminished": "A diminished chord put between two chords.",
    "chromatic-approach": "A chord of the next one's kind, a semitone away, put before it.",
    "turned-minor": "A major chord that turns minor before it moves on.",
    "added-chord": "Another chord put beside the one that was there.",
    "left-out-related-ii": "The related ii before a dominant left out.",
    "left-out-dominant": "The dominant before the next chord left out.",
    "left-out-substitute-dominant": "The substitute dominant before the next chord left out.",
    "left-out-two-five": "A ii and a dominant before the next chord left out.",
    "left-out-passing-diminished": "A diminished chord between two chords left out.",
    "left-out-chromatic-approach": "A chord of approach left out.",
    "left-out-turned-minor": "A major chord that stays major.",
    "left-out-chord": "One chord of a pair left out.",
    "no-chord": "A chord where the other version has none.",
    "reharmonised": "Other harmony.",
    "inserted-bars": "Bars that the first version does not have.",
    "left-out-bars": "Bars that the second version does not have.",
    "section-repeated": "A section played once more.",
    "repeat-left-out": "The repeat of a section left out.",
    "transposed": "The whole tune in another key.",
}


@dataclass(frozen=True, slots=True)
class Context:
    """What stands around a difference: the chord before it in the first version, the two chords after it in each, and the
    pitch class of the tonic where it is known."""

    before: ChordSymbol | None
    next_a: ChordSymbol | None
    next_b: ChordSymbol | None
    then_a: ChordSymbol | None = None
    then_b: ChordSymbol | None = None
    home: int | None = None


def same_chord(a: ChordSymbol | None, b: ChordSymbol | None) -> bool:
    """Same root and family, tensions and bass aside."""
    if a is None or b is None:
        return a is b
    return a.root.pc == b.root.pc and a.family == b.family


def name_difference(a: Chords, b: Chords, context: Context) -> str:
    """The id in KINDS of what turns chords a into chords b, which last equally long."""
    if len(a) == len(b) and all(same_chord(x, y) for x, y in zip(a, b, strict=True)):
        return _detail(a, b)
    if len(a) == len(b) == 1:
        return _one_for_one(a[0], b[0], context)
    if len(a) == 1:
        return _added(a[0], b, context.next_b)
    if len(b) == 1:
        return _taken_away(_added(b[0], a, context.next_a))
    return "reharmonised"


def _detail(a: Chords, b: Chords) -> str:
    pairs = [(x, y) for x, y in zip(a, b, strict=True) if x is not None and y is not None and x != y]
    if not pairs:
        return "moved"
    return "bass" if all(x.degrees == y.degrees for x, y in pairs) else "colour"


def _taken_away(kind: str) -> str:
    if kind.startswith("added-"):
        return "left-out-" + kind.removeprefix("added-")
    if kind in ("passing-diminished", "chromatic-approach", "turned-minor"):
        return f"left-out-{kind}"
    return kind


# --- one chord for one chord ---


def _one_for_one(a: ChordSymbol | None, b: ChordSymbol | None, context: Context) -> str:
    if a is None or b is None:
        return "no-chord"
    if a.root.pc == b.root.pc:
        return _same_root(a, b)
    by_function = _dominant_for_dominant(a, b, context) or _two_of_substitute(a, b, context)
    if by_function:
        return by_function
    if a.pcs == b.pcs:
        return "same-notes"
    held = _after_held(a, b, context)
    if held:
        return held
    if is_two(a, b) or is_two(b, a):
        return "ii-for-v"
    return "shared-tones" if len(a.pcs & b.pcs) >= 3 else "reharmonised"


def _same_root(a: ChordSymbol, b: ChordSymbol) -> str:
    if "suspended" in (a.family, b.family):
        return "suspended"
    modes = {a.family, b.family}
    return "interchange" if modes == {"major", "minor"} else "quality"


def _dominant_for_dominant(a: ChordSymbol, b: ChordSymbol, context: Context) -> str:
    if is_dominant(a) and is_dominant(b):
        apart = (b.root.pc - a.root.pc) % 12
        if apart == 6:
            return "tritone-substitute"
        elsewhere = _led_elsewhere(a, context.next_a, b, context.next_b)
        flat = b if apart == 3 else a
        if apart in (3, 9) and not elsewhere and _way_home(flat, context.next_a, context.next_b, context.home):
            return "backdoor"
        if elsewhere:
            return "other-goal"
    for dominant, other in ((a, b), (b, a)):
        if is_dominant(dominant) and other.family == "diminished" and _upper_notes(dominant, other):
            return "diminished-for-dominant"
    return ""


def _way_home(flat: ChordSymbol, goal_a: ChordSymbol | None, goal_b: ChordSymbol | None, home: int | None) -> bool:
    """Whether a dominant is the flat seven of what follows in both versions, and that is a place to come home to: major,
    or the tonic itself. (D7 before Em7 in C is no back door: that 3 is no home.)"""
    goals = [goal for goal in (goal_a, goal_b) if goal is not None]
    if not goals or len({goal.root.pc for goal in goals}) > 1:
        return False
    goal = goals[0]
    return (goal.root.pc - flat.root.pc) % 12 == 2 and (
        goal.family in ("major", "dominant", "suspended") or goal.root.pc == home
    )


def _led_elsewhere(a: ChordSymbol, goal_a: ChordSymbol | None, b: ChordSymbol, goal_b: ChordSymbol | None) -> bool:
    """Whether two dominants each fall a fifth to a chord of their own."""
    return (
        goal_a is not None
        and goal_b is not None
        and goal_a.root.pc != goal_b.root.pc
        and (a.root.pc - goal_a.root.pc) % 12 == (b.root.pc - goal_b.root.pc) % 12 == 7
    )


def _upper_notes(dominant: ChordSymbol, diminished: ChordSymbol) -> bool:
    """Whether the diminished chord stands on the 3rd, 5th, 7th or flat 9th of the dominant."""
    return (diminished.root.pc - dominant.root.pc) % 12 in (1, 4, 7, 10)


def _two_of_substitute(a: ChordSymbol, b: ChordSymbol, context: Context) -> str:
    minor = {"minor", "half-diminished"}
    if (b.root.pc - a.root.pc) % 12 == 6 and a.family in minor and b.family in minor:
        five_a, five_b = context.next_a, context.next_b
        if (five_b and is_two(b, five_b)) or (five_a and is_two(a, five_a)):
            return "tritone-substitute-ii"
    if _twos_of_other_goals(a, b, context):
        return "other-goal"
    for two, other, five in ((a, b, context.next_b), (b, a, context.next_a)):
        flat_side = (other.root.pc - two.root.pc) % 12 == 3 and two.family in minor and other.family == "minor"
        if flat_side and five and is_two(other, five) and _way_home(five, context.then_a, context.then_b, context.home):
            return "backdoor-ii"
    return ""


def _twos_of_other_goals(a: ChordSymbol, b: ChordSymbol, context: Context) -> bool:
    """Whether each is the ii of a dominant that goes to a chord of its own."""
    five_a, five_b = context.next_a, context.next_b
    return (
        five_a is not None
        and five_b is not None
        and is_two(a, five_a)
        and is_two(b, five_b)
        and _led_elsewhere(five_a, context.then_a, five_b, context.then_b)
    )


def _after_held(a: ChordSymbol, b: ChordSymbol, context: Context) -> str:
    """Where the first version only goes on with the chord before, the second has added one."""
    if not same_chord(a, context.before):
        return ""
    return _added(a, (a, b), context.next_b)


# --- one chord becomes several ---


def _added(one: ChordSymbol | None, several: Sequence[ChordSymbol | None], following: ChordSymbol | None) -> str:
    first, last = several[0], several[-1]
    if len(several) == 2 and first is not None and last is not None and one is not None:
        if is_two(first, last):
            if same_chord(last, one):
                return "added-related-ii"
            if is_dominant(one) and (last.root.pc - one.root.pc) % 12 == 6:
                return "tritone-substitute-with-ii"
        if same_chord(first, one):
            turned = first.root.pc == last.root.pc and (first.family, last.family) == ("major", "minor")
            return "turned-minor" if turned else _approach(last, following)
    if (
        len(several) == 3
        and same_chord(first, one)
        and several[1] is not None
        and last is not None
        and (is_two(several[1], last) and following is not None and (last.root.pc - following.root.pc) % 12 in (7, 1))
    ):
        return "added-two-five"
    if any(same_chord(chord, one) for chord in several):
        return "added-chord"
    return "reharmonised"


def _approach(added: ChordSymbol, following: ChordSymbol | None) -> str:
    """What a chord does that is put before another."""
    if added.family == "diminished":
        return "passing-diminished"
    if following is None:
        return "added-chord"
    above = (added.root.pc - following.root.pc) % 12
    if is_dominant(added) and above == 7:
        return "added-dominant"
    if is_dominant(added) and above == 1:
        return "added-substitute-dominant"
    if above in (1, 11) and added.family == following.family:
        return "chromatic-approach"
    if is_two(added, following):
        return "added-related-ii"
    return "added-chord"
