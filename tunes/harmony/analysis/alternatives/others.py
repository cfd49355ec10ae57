"""The second readings of a chord: the same chord in the same key by another name, and in the next best keys.

What a second reading must keep to be told at all is in `seconds`.  The margins beside those of the grammar and of the keys
say how far behind the first reading one stands; they are ours.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log
from typing import overload

from tunes.harmony.analysis.alternatives.seconds import MOST_LED, Heard, adds, as_heard, holds, near_enough
from tunes.harmony.analysis.home_key.home import MAJOR
from tunes.harmony.analysis.key_areas.cadences import KeyPc
from tunes.harmony.analysis.key_areas.names import KeyNames
from tunes.harmony.analysis.key_areas.tables import DIATONIC, MARGIN_OPEN, REST_DEGREES
from tunes.harmony.analysis.naming.company import in_company, three_rests
from tunes.harmony.analysis.naming.label import Label, spell
from tunes.harmony.analysis.naming.labels import label
from tunes.harmony.analysis.naming.places import Spot, place, spot
from tunes.harmony.analysis.naming.teller import Teller
from tunes.harmony.analysis.preparation.skeleton import Skeleton, by_rival
from tunes.harmony.analysis.sounds import DOM, HALF, MAJ, MIN, STABLE, Stretch
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.reading import Alternative
from tunes.harmony.readings.reason import Args, Named, Reason
from tunes.harmony.readings.rule_ids import RuleId

_MOST_RIVAL = 3.0  # about twenty to one
_MOST_OTHERS = 3
_BACK_DOOR_MARGIN = 1.0  # experts are divided over flat 7 before 3 and 6
_AS_FIVE_MARGIN = 2.0
_AS_FOUR_MARGIN = 1.0
_LEANING_MARGIN = 2.0


class _LabelsIn(Sequence[Label]):
    """What every stretch of a chorus is called in one key; only what is asked for is worked out."""

    def __init__(self, bones: Skeleton, spots: Sequence[Spot], key: KeyPc, blues: bool) -> None:
        self.bones, self.spots, self.key, self.blues = bones, spots, key, blues
        self.known: dict[int, Label] = {}

    def __len__(self) -> int:
        return len(self.spots)

    @overload
    def __getitem__(self, at: int) -> Label: ...
    @overload
    def __getitem__(self, at: slice) -> list[Label]: ...
    def __getitem__(self, at: int | slice) -> Label | list[Label]:
        if isinstance(at, slice):
            return [self[index] for index in range(*at.indices(len(self)))]
        index = range(len(self))[at]
        if index not in self.known:
            chord = self.bones.chords[index]
            self.known[index] = label(place(self.spots[index], chord, self.key, self.bones.home, self.blues))
        return self.known[index]


class OtherReadings:
    """Finds the second readings of the stretches of one chorus."""

    def __init__(
        self, bones: Skeleton, names: KeyNames, keys: Sequence[KeyPc], ranked: Sequence[Sequence[tuple[float, KeyPc]]],
        spots: Sequence[Spot], labels: Sequence[Label], blues: bool,
    ) -> None:  # fmt: skip
        self.bones, self.names, self.keys, self.ranked = bones, names, keys, ranked
        self.spots, self.labels, self.blues = spots, labels, blues
        self.teller = Teller(bones, names, keys, labels)
        self.tellers: dict[KeyPc, Teller] = {}

    def of(self, index: int, chord: Stretch, chosen: Label) -> tuple[Alternative, ...]:
        """The same chord in the same key with another name, and in the next best keys; nearest first, none that is
        spoken like the reading itself in its key."""
        out = [*self._back_door(index, chord, chosen), *self._its_two(index, chord, chosen), *self._its_other_two(index, chord, chosen),
               *self._other_goal(index, chord, chosen), *self._as_five(index, chord, chosen), *self._as_four(index, chord, chosen),
               *self._leaning_home(index, chord), *self._in_other_keys(index, chord, chosen)]  # fmt: skip
        said = {(self.names.key(self.keys[index]), chosen.function.spoken)}
        kept: list[Alternative] = []
        for one in sorted(out, key=lambda found: found.margin):
            if (one.key, one.function.spoken) not in said and len(kept) < _MOST_OTHERS:
                said.add((one.key, one.function.spoken))
                kept.append(one)
        return tuple(kept)

    def _in_other_keys(self, index: int, chord: Stretch, chosen: Label) -> list[Alternative]:
        """The chord in the home key, and in the nearest other key: what holds there and is heard."""
        found: list[Alternative] = []
        away = False
        for margin, key in self.ranked[index][1:]:
            home = key == self.bones.home
            if margin > MOST_LED or (away and not home):
                continue
            other = label(place(self.spots[index], chord, key, self.bones.home, self.blues and home))
            if not near_enough(margin, home, other):
                continue
            teller = self._teller_in(key)
            heard = Heard(self.bones, index, key, teller.labels)
            other = as_heard(other, heard, margin, self.spots[index].arrived)
            same = key[0] == self.keys[index][0] and other.function.numeral == chosen.function.numeral
            if (same and margin > MARGIN_OPEN) or not adds(other, chosen, not home) or not holds(heard, other):
                continue
            away = away or not home
            why = teller.reason(index, in_company(index, other, self.bones, teller.labels), key)
            found.append(
                Alternative(key=self.names.key(key), function=other.function, margin=round(margin, 2), reason=why)
            )
        return found

    def _teller_in(self, key: KeyPc) -> Teller:
        """Who tells the whole chorus in one key: what leads somewhere is named by what it leads to there."""
        if key not in self.tellers:
            blues = self.blues and key == self.bones.home
            labels = _LabelsIn(self.bones, self.spots, key, blues)
            self.tellers[key] = Teller(self.bones, self.names, [key] * len(labels), labels)
        return self.tellers[key]

    def _back_door(self, index: int, chord: Stretch, chosen: Label) -> list[Alternative]:
        """Flat 7 read as a substitute or a link of a chain can also be heard going home by the back door, to 1 or to what
        stands in its place."""
        key = self.keys[index]
        by_root = (chord.root - key[0]) % 12 == 10 and chord.cls == DOM and key[1] == MAJOR
        if not by_root or chosen.function.of not in ("sub5", "5"):
            return []
        after = self.bones.chords[(index + 1) % len(self.bones.chords)]
        degree = (after.root - key[0]) % 12
        rule = {(4, MIN): RuleId.BACKDOOR_THREE, (9, MIN): RuleId.DECEPTIVE, (0, MAJ): RuleId.BACKDOOR}.get(
            (degree, after.cls)
        )
        if rule is None:
            return []
        if rule == RuleId.BACKDOOR_THREE and not three_rests(index, self.labels):
            rule = RuleId.BACKDOOR_LEFT
        function = Function("b7", chosen.function.quality, "dominant", "backdoor", "1", False, "b7")
        name = self.names.key(key)
        then = Named(degree=spell(degree, after.cls, False))
        return [_told(name, function, _BACK_DOOR_MARGIN, rule, target=Named(degree="1"), following=then)]

    def _its_two(self, index: int, chord: Stretch, chosen: Label) -> list[Alternative]:
        """Minor 4 before such a flat 7 goes with it by the back door."""
        key, goal = self.keys[index], self.bones.goals[index]
        if goal != index + 1 or (chord.root - key[0]) % 12 != 5 or chord.cls != MIN or key[1] != MAJOR:
            return []
        ahead = self.bones.chords[goal]
        if not self._back_door(goal, ahead, self.labels[goal]) or chosen.rule == RuleId.BACKDOOR_FOUR:
            return []
        function = Function("4", chosen.function.quality, "predominant", "interchange")
        name = self.names.key(key)
        return [_told(name, function, _BACK_DOOR_MARGIN, RuleId.BACKDOOR_FOUR)]

    def _its_other_two(self, index: int, chord: Stretch, chosen: Label) -> list[Alternative]:
        """The 2 of a dominant that can be heard a fifth above a chord of the key."""
        goal, key = self.bones.goals[index], self.keys[index]
        if goal != index + 1 or chord.cls not in (MIN, HALF) or chosen.function.of == "2" or self.keys[goal] != key:
            return []
        ahead, degree = self.bones.chords[goal], (chord.root - key[0]) % 12
        if (ahead.root - chord.root) % 12 != 5 or ((degree, chord.cls) in DIATONIC[key[1]] and degree in (4, 9)):
            return []
        name = self.names.key(key)
        return [
            _told(name, two, five.margin, RuleId.RELATED_II, aim=Named(degree=five.function.target or "1"))
            for five in self._as_five(goal, ahead, self.labels[goal])
            for two in [Function(spell(degree, chord.cls, False), chosen.function.quality, "predominant", "related-ii",
                                 five.function.target, five.function.target_minor, "2")]
        ]  # fmt: skip

    def _as_five(self, index: int, chord: Stretch, chosen: Label) -> list[Alternative]:
        """A substitute or a back door can be heard as the dominant a fifth above a chord of the key: one that comes after
        a passing chord or two, one whose own substitute comes instead, or one that its 2 alone lets us expect."""
        if chosen.function.of not in ("sub5", "b7") or chord.cls != DOM:
            return []
        key = self.keys[index]
        aim = (chord.root + 5 - key[0]) % 12
        degree = next((cls for cls in (MIN, MAJ) if (aim, cls) in REST_DEGREES[key[1]]), None)
        if degree is None or aim == 0:
            return []
        soon = self._soon(index, (aim + key[0]) % 12)
        rule = RuleId.APPLIED if soon else self._left_open(index, chord)
        if rule is None:
            return []
        target = spell(aim, degree, False)
        function = Function(spell((chord.root - key[0]) % 12, DOM, False), chosen.function.quality, "dominant",
                            "applied" if soon else "unresolved", target, degree == MIN, "5")  # fmt: skip
        name = self.names.key(key)
        told = Args(key=name, chord=function, target=Named(degree=target))
        told = self.teller.with_between(told, index, soon, key) if soon else told
        why = Reason(rule=rule, args=told)
        return [Alternative(key=name, function=function, margin=_AS_FIVE_MARGIN, reason=why)]

    def _left_open(self, index: int, chord: Stretch) -> RuleId | None:
        """The rule for a dominant whose goal does not come: its substitute comes, or its own 2 stands before it; else None."""
        chords = self.bones.chords
        after, before = chords[(index + 1) % len(chords)], chords[index - 1]
        if after.cls == DOM and (chord.root - after.root) % 12 == 1:
            return RuleId.GOAL_EXCHANGED
        prepared = before.cls in (MIN, HALF) and (chord.root - before.root) % 12 == 5
        return RuleId.UNRESOLVED if prepared and index else None

    def _as_four(self, index: int, chord: Stretch, chosen: Label) -> list[Alternative]:
        """4 dominant of major: 4 with the flat 7 of the blues, when it is read as 5 of flat 7, and the other way about."""
        key = self.keys[index]
        if (chord.root - key[0]) % 12 != 5 or chord.cls != DOM or key[1] != MAJOR:
            return []
        name = self.names.key(key)
        if chosen.rule == RuleId.TO_FLAT_SEVEN:
            function = Function("4", chosen.function.quality, "dominant", "dominant-chain", "b7", False, "5")
            told = Args(key=name, chord=function, target=Named(degree="b7"))
            why = Reason(rule=RuleId.APPLIED, args=told)
            return [Alternative(key=name, function=function, margin=_AS_FOUR_MARGIN, reason=why)]
        if chosen.function.of != "5":
            return []
        function = Function("4", chosen.function.quality, "colour", "blues")
        return [_told(name, function, _AS_FOUR_MARGIN, RuleId.BLUES_COLOUR)]

    def _leaning_home(self, index: int, chord: Stretch) -> list[Alternative]:
        """Flat 2 of the home key, the last chord of another key, before home."""
        home, chords = self.bones.home, self.bones.chords
        at = (index + 1) % len(chords)
        if (
            self.keys[index] == home
            or self.keys[at] != home
            or chords[at].root != home[0]
            or chords[at].cls not in STABLE
        ):
            return []
        if (chord.root - home[0]) % 12 != 1 or chord.cls != MAJ:
            return []
        function, name = Function("b2", chord.quality, "predominant", "interchange"), self.names.key(home)
        return [_told(name, function, _LEANING_MARGIN, RuleId.LEANING)]

    def _soon(self, index: int, root: int) -> int | None:
        """Where a chord at rest on a root comes after one passing chord or two."""
        chords = self.bones.chords
        return next((at for at in range(index + 2, min(index + 4, len(chords)))
                     if chords[at].root == root and chords[at].cls in STABLE), None)  # fmt: skip

    def _other_goal(self, index: int, chord: Stretch, chosen: Label) -> list[Alternative]:
        """The same chord in the same key, heading where the grammar's second choice says."""
        sure = self.bones.sure[index]
        margin = log(max(sure, 1e-9) / max(1 - sure, 1e-9))
        bones = by_rival(self.bones, index) if margin <= _MOST_RIVAL else None
        if bones is None:
            return []
        key = self.keys[index]
        other = label(place(spot(bones, index), chord, key, self.bones.home, self.blues))
        back_door = other.function.of == "b7" and self._back_door(index, chord, chosen)
        if (
            other.function.numeral == chosen.function.numeral
            or back_door
            or (chosen.function.of and chosen.resolution == "direct" != other.resolution)
        ):
            return []
        if not adds(other, chosen, chosen.function.of is not None) or not holds(
            Heard(bones, index, key, self._teller_in(key).labels), other
        ):
            return []
        why = self.teller.reason(index, other, key, bones)
        name, behind = self.names.key(key), round(max(0.0, margin), 2)
        return [Alternative(key=name, function=other.function, margin=behind, reason=why)]


def _told(
    key: Key, function: Function, margin: float, rule: RuleId,
    target: Named | None = None, aim: Named | None = None, following: Named | None = None,
) -> Alternative:  # fmt: skip
    """A second reading with a reason of its own."""
    told = Args(key=key, chord=function, target=target, aim=aim, following=following)
    return Alternative(key=key, function=function, margin=margin, reason=Reason(rule=rule, args=told))
