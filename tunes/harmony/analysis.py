"""The harmonic analysis of a chart: what every chord does, where it is heading, and why.

    >>> from tunes.harmony.chart import parse_chart
    >>> chart = parse_chart("| Dm7 | G7 | Cmaj7 | % |").chart
    >>> [(r.function.numeral, r.resolves_to) for r in analyse(chart).readings][:3]
    [('ii7', 1), ('V7', 2), ('Imaj7', None)]

Five steps, each a module of its own: the home key (`home`), the grammar of preparation over the whole cyclic
form (`grammar`, `parser`, `preparation`), key areas by dynamic programming (`areas`), the naming of functions by rules
(`labels`, `rules`), and what shows only over several chords (`patterns`).  The result types live in `reading` and are exported here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import log

from .areas import KeyPc, key_of, segment
from .bars import Event
from .chart_model import Chart
from .chord_symbol import ChordSymbol
from .explain import Words, reason
from .functions import Function, say_degree
from .home import MAJOR
from .home_mode import ends_otherwise
from .key_tables import DIATONIC, MARGIN_OPEN, REST_DEGREES
from .label_parts import Label, spell
from .labels import is_blues, label
from .landing import SLIDES, landing
from .naming import KeyNames
from .patterns import with_patterns
from .places import Spot, place, spot
from .preparation import TOP, Skeleton, by_rival, skeleton
from .reading import Alternative, Analysis, KeyArea, Reading
from .rules import RULES, Rule
from .sounds import DOM, DOMINANTS, MAJ, MIN, NONE, STABLE, SUS, Sound, Stretch, sounds_of
from .spelling import Key
from .teller import Teller

__all__ = [
    "ENGINE", "RULES", "Alternative", "Analysis", "Function", "KeyArea", "Reading", "Rule", "analyse",
    "analyse_events", "analyse_sounds", "landing",
]  # fmt: skip

ENGINE = "7"
"""Version of the analysis, stored with every revision: raise it when readings change."""
_MOST_MARGIN = 3.0  # another key that costs more is not what anybody hears
_MOST_RIVAL = 3.0  # about twenty to one
_MOST_OTHERS = 3
_BACK_DOOR_MARGIN = 1.0  # experts are divided over flat 7 before 3 and 6
_AS_FIVE_MARGIN = 2.0
_TOUCHED = 2.0  # bars at rest; a key with less is only touched
_SILENCE = Function("1", "", "none", "no-chord")


def analyse(chart: Chart, held: Mapping[int, Key] | None = None) -> Analysis:
    """The reading of one chorus. `held` gives, by event, keys that a person has fixed."""
    return analyse_events(chart.events(), given=chart.key, held=held)


def analyse_events(
    events: Sequence[Event], given: Key | None = None, held: Mapping[int, Key] | None = None
) -> Analysis:
    """The same for a bare sequence of events. `given` is the key a chart states: it settles the spelling only."""
    sounds, beats = sounds_of(events)
    found = analyse_sounds([event.symbol for event in events], sounds, beats, given, held)
    told = with_patterns(found, [None if sound.cls == NONE else sound.bass for sound in sounds])
    return replace(told, landing=landing(told.readings))


def analyse_sounds(
    symbols: Sequence[ChordSymbol | None], sounds: Sequence[Sound], beats: float,
    given: Key | None = None, held: Mapping[int, Key] | None = None,
) -> Analysis:  # fmt: skip
    """The same for symbols with their sounds already timed; `beats` is the length of a bar."""
    bones = skeleton(sounds, beats)
    if bones is None:
        return _silent(len(sounds), given)
    return _Work(symbols, sounds, bones, given, held or {}).analysis()


def _silent(count: int, given: Key | None) -> Analysis:
    home = given or Key.parse("C")
    readings = tuple(_no_chord(event, home) for event in range(count))
    areas = (KeyArea(home, 0, count - 1, reason("silence", "", home.text)),) if count else ()
    return Analysis(home, areas, readings, (None,) * count, ENGINE)


def _no_chord(index: int, key: Key) -> Reading:
    return Reading(index, key, _SILENCE, None, "none", "silence", reason("silence", "no chord", key.text), key)


def _way_on(found: Label, goal: int | None) -> str:
    """How a chord goes to its goal. A tonic, a colour and a chord that slides by do not resolve: the music goes on from them."""
    if goal is None:
        return "none"
    if found.rule in ("taken-up", "suspended"):
        return "held"
    onward = found.function.role in ("tonic", "colour") or found.rule in (*SLIDES, "auxiliary")
    return "onward" if onward else found.resolution


class _Work:
    """One analysis in the making."""

    def __init__(
        self, symbols: Sequence[ChordSymbol | None], sounds: Sequence[Sound], bones: Skeleton, given: Key | None,
        held: Mapping[int, Key],
    ) -> None:  # fmt: skip
        self.sounds, self.bones = sounds, bones
        self.names = KeyNames(symbols, bones.home, given)
        self.blues = is_blues(bones)
        self.stretch_of = {e: i for i, c in enumerate(bones.chords) for e in range(c.first, c.last + 1)}
        self.held = held
        fixed = {self.stretch_of[e]: (k.tonic.pc, k.mode) for e, k in held.items() if e in self.stretch_of}
        self.keys, self.ranked = segment(bones, fixed)
        self.spots = [spot(bones, index) for index in range(len(bones.chords))]
        self.labels = [self._label(s, c, k) for s, c, k in zip(self.spots, bones.chords, self.keys, strict=True)]
        self.teller = Teller(bones, self.names, self.keys, self.labels)

    def analysis(self) -> Analysis:
        home = self.names.key(self.bones.home)
        readings = tuple(self._reading(index) for index in range(len(self.sounds)))
        return Analysis(home, self._areas(), readings, landing(readings), ENGINE)

    def _label(self, spot: Spot, chord: Stretch, key: KeyPc) -> Label:
        return label(place(spot, chord, key, self.bones.home, self.blues))

    def _reading(self, event: int) -> Reading:
        index = self.stretch_of.get(event)
        if index is None or self.sounds[event].cls == NONE:
            return _no_chord(event, self.names.key(self.keys[index or 0]))
        chord = self._chord(event, index)
        whole = chord is self.bones.chords[index]
        found = self.labels[index] if whole else self._label(self.spots[index], chord, self.keys[index])
        found = self._suspended(event, index, self._into_the_blues(index, found))
        key = self.names.key(self.keys[index])
        goal = None if found.resolution == "none" else self._goal_event(index, event)
        return Reading(
            event, key, found.function, goal, _way_on(found, goal),
            found.rule, self.teller.reason(index, found, self.keys[index]), self._local(index, found, key),
            self._alternatives(index, chord, found), (),
        )  # fmt: skip

    def _into_the_blues(self, index: int, found: Label) -> Label:
        """A dominant before a seventh chord that is at home does not run on."""
        goal = self.bones.goals[index]
        if found.rule != "chain" or goal is None or self.labels[max(goal, 0)].function.kind != "blues":
            return found
        if found.function.target == "1":
            return found._replace(rule="dominant")
        return found._replace(rule="applied", function=replace(found.function, kind="applied"))

    def _suspended(self, event: int, index: int, found: Label) -> Label:
        """A suspended dominant before its own third settles there first, wherever the dominant goes then."""
        if event == self.bones.chords[index].last or found.resolution == "none":
            return found
        here, then = self.sounds[event], self.sounds[event + 1]
        if here.cls != SUS or then.cls != DOM or here.root != then.root or found.function.of != "5":
            return found
        kind = "diatonic" if found.function.target == "1" else "applied"
        return found._replace(rule="suspended", resolution="delayed", function=replace(found.function, kind=kind))

    def _chord(self, event: int, index: int) -> Stretch:
        """The stretch with this event's own class and quality."""
        sound, chord = self.sounds[event], self.bones.chords[index]
        if (sound.cls, sound.quality) == (chord.cls, chord.quality):
            return chord
        return chord._replace(cls=sound.cls, quality=sound.quality)

    def _goal_event(self, index: int, event: int) -> int | None:
        goal = self.bones.goals[index]
        if goal is None:
            return None
        found = self.bones.chords[0 if goal == TOP else goal].first
        return None if found == event else found

    def _local(self, index: int, found: Label, key: Key) -> Key:
        """The key the chord directly serves."""
        chord = self.bones.goal_chord(index)
        at = index
        if found.function.of == "2":
            goal = self.bones.goals[index]
            at = goal if goal is not None and goal != TOP else index
            chord = self.bones.goal_chord(at)
        if found.function.of in ("5", "sub5", "2") and chord is not None and chord.cls in STABLE:
            return self.names.key(key_of(chord))
        return key

    def _alternatives(self, index: int, chord: Stretch, chosen: Label) -> tuple[Alternative, ...]:
        """The same chord in the same key with another name, and in the next best keys; nearest first, none that is
        spoken like the reading itself in its key."""
        out = [*self._back_door(index, chord, chosen), *self._its_two(index, chord, chosen),
               *self._other_goal(index, chord, chosen), *self._as_five(index, chord, chosen)]  # fmt: skip
        for margin, key in self.ranked[index][1:]:
            if margin > _MOST_MARGIN:
                break
            blues = self.blues and key == self.bones.home
            other = label(place(self.spots[index], chord, key, self.bones.home, blues))
            if other.rule == "taken-up" or (other.rule == "blues-colour" and chosen.function.of is not None):
                continue  # nobody hears at rest what has just resolved
            text = self.teller.reason(index, other, key)
            out.append(Alternative(self.names.key(key), other.function, round(margin, 2), text))
        if not out:
            return ()
        said = {(self.names.key(self.keys[index]), chosen.function.spoken)}
        kept: list[Alternative] = []
        for one in sorted(out, key=lambda found: found.margin):
            if (one.key, one.function.spoken) not in said and len(kept) < _MOST_OTHERS:
                said.add((one.key, one.function.spoken))
                kept.append(one)
        return tuple(kept)

    def _back_door(self, index: int, chord: Stretch, chosen: Label) -> list[Alternative]:
        """Flat 7 read as a substitute or a link of a chain can also be heard going home by the back door."""
        key = self.keys[index]
        by_root = (chord.root - key[0]) % 12 == 10 and chord.cls == DOM and key[1] == MAJOR
        if not by_root or chosen.function.of not in ("sub5", "5"):
            return []
        function = Function("b7", chosen.function.quality, "dominant", "backdoor", "1", False, "b7")
        name = self.names.key(key)
        after = self.bones.chords[(index + 1) % len(self.bones.chords)]
        rule = "backdoor-three" if ((after.root - key[0]) % 12, after.cls) == (4, MIN) else "unresolved"
        if after.root == key[0]:
            rule = "backdoor"
        return [Alternative(name, function, _BACK_DOOR_MARGIN, reason(rule, function.spoken, name.text, Words("1")))]

    def _its_two(self, index: int, chord: Stretch, chosen: Label) -> list[Alternative]:
        """Minor 4 before such a flat 7 goes with it by the back door."""
        key, goal = self.keys[index], self.bones.goals[index]
        if goal != index + 1 or (chord.root - key[0]) % 12 != 5 or chord.cls != MIN or key[1] != MAJOR:
            return []
        ahead = self.bones.chords[goal]
        if not self._back_door(goal, ahead, self.labels[goal]) or chosen.rule == "backdoor-four":
            return []
        function = Function("4", chosen.function.quality, "predominant", "interchange")
        name = self.names.key(key)
        return [Alternative(name, function, _BACK_DOOR_MARGIN, reason("backdoor-four", function.spoken, name.text))]

    def _as_five(self, index: int, chord: Stretch, chosen: Label) -> list[Alternative]:
        """A substitute or a back door can be heard as the dominant a fifth above a chord of the key, left open."""
        if chosen.function.of not in ("sub5", "b7") or chord.cls != DOM:
            return []
        key = self.keys[index]
        aim = (chord.root + 5 - key[0]) % 12
        degree = next((cls for cls in (MIN, MAJ) if (aim, cls) in REST_DEGREES[key[1]]), None)
        if degree is None or aim == 0:
            return []
        target = spell(aim, degree, False)
        soon = self._soon(index, (aim + key[0]) % 12)
        function = Function(spell((chord.root - key[0]) % 12, DOM, False), chosen.function.quality, "dominant",
                            "applied" if soon else "unresolved", target, degree == MIN, "5")  # fmt: skip
        name = self.names.key(key)
        words = Words(say_degree(target), between=self.teller.between(index, soon, key) if soon else "")
        return [Alternative(name, function, _AS_FIVE_MARGIN, reason("applied" if soon else "unresolved", function.spoken, name.text, words))]

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
        other = self._label(spot(bones, index), chord, key)
        back_door = other.function.of == "b7" and self._back_door(index, chord, chosen)
        if other.function.numeral == chosen.function.numeral or back_door or other.rule == "taken-up" or (chosen.function.of and chosen.resolution == "direct" != other.resolution):
            return []
        text = self.teller.reason(index, other, key, bones)
        return [Alternative(self.names.key(key), other.function, round(max(0.0, margin), 2), text)]

    def _areas(self) -> tuple[KeyArea, ...]:
        areas: list[KeyArea] = []
        keys = [self._key_at(event) for event in range(len(self.sounds))]
        start = 0
        for event in range(1, len(keys) + 1):
            if event == len(keys) or keys[event] != keys[start]:
                areas.append(self._area(keys[start], start, event - 1))
                start = event
        return tuple(areas)

    def _key_at(self, event: int) -> KeyPc:
        """The key of an event; silence takes the key before it."""
        while event >= 0:
            index = self.stretch_of.get(event)
            if index is not None:
                return self.keys[index]
            event -= 1
        return self.keys[0]

    def _area(self, key: KeyPc, first: int, last: int) -> KeyArea:
        inside = sorted({self.stretch_of[event] for event in range(first, last + 1) if event in self.stretch_of})
        bars = sum(self.bones.chords[index].duration for index in inside if self.bones.goals[index] is None or
                   self.labels[index].function.role == "tonic") / self.bones.beats  # fmt: skip
        rule = "area-cadence" if bars >= _TOUCHED else "area-touched"
        if any(first <= event <= last for event in self.held):
            rule = "area-held"
        elif key == self.bones.home:
            rule = "area-return" if first else "area-home"
        name = self.names.key(key)
        text = reason(rule, "", name.text, Words(witnesses=self._witnesses(key)))
        if rule == "area-home" and self._ends_otherwise():
            text += f" It ends in {self._ends_otherwise()}."
        return KeyArea(name, first, last, text if rule == "area-held" else text + self._nearly(inside))

    def _ends_otherwise(self) -> str:
        """The other mode, when the tune comes to rest in it."""
        return ends_otherwise(self.bones.chords, self.bones.last_tonic, *self.bones.home)

    def _witnesses(self, key: KeyPc) -> str:
        """What speaks for a home key, as far as it does: the chords, the beginning, the end, the cadences."""
        chords, goals = self.bones.chords, self.bones.goals
        found = ["the chords"]
        if chords[0].root == key[0]:
            found.append("the beginning")
        if chords[-1].root == key[0] and not self._ends_otherwise():
            found.append("the end")
        if any((chord.root - key[0]) % 12 == 7 and chord.cls in DOMINANTS and goal is not None
               and chords[max(goal, 0)].root == key[0] for chord, goal in zip(chords, goals, strict=True)):  # fmt: skip
            found.append("the cadences")
        said = found[0] if len(found) == 1 else f"{', '.join(found[:-1])} and {found[-1]}"
        return f"{said[0].upper()}{said[1:]} speak"

    def _nearly(self, inside: Sequence[int]) -> str:
        """Says once which other key is heard nearly as well: all through an area, at its ends, or in places."""
        rivals = [{key for margin, key in self.ranked[index][1:] if margin <= MARGIN_OPEN} for index in inside]
        counts = Counter(key for found in rivals for key in found)
        if not counts:
            return ""
        key, count = min(counts.items(), key=lambda item: (-item[1], self.names.key(item[0]).text))
        held = [key in found for found in rivals]
        where = "In places it"
        if all(held):
            where = "It"
        elif all(held[:count]):
            pivot = inside[0] > 0 and key == self.keys[inside[0] - 1] and self._in_both(inside[:count], key)
            where = "It comes in by a pivot that" if pivot else "Its beginning"
        elif all(held[-count:]):
            where = "Its end"
        return f" {where} can be heard in {self.names.key(key).text} nearly as well."

    def _in_both(self, inside: Sequence[int], other: KeyPc) -> bool:
        """Whether chords belong to their own key and to another: a pivot between the two."""
        return all(
            ((self.bones.chords[index].root - key[0]) % 12, self.bones.chords[index].cls) in DIATONIC[key[1]]
            for index in inside for key in (self.keys[index], other)
        )
