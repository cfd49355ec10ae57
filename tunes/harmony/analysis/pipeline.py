"""The harmonic analysis of a chart: what every chord does, where it is heading, and why.

    >>> from tunes.harmony.charts import parse_chart
    >>> chart = parse_chart("| Dm7 | G7 | Cmaj7 | % |").chart
    >>> [(r.function.numeral, r.resolves_to) for r in analyse(chart).readings][:3]
    [('ii7', 1), ('V7', 2), ('Imaj7', None)]

Five steps, each a package of its own: `home_key`, `preparation` (the grammar over the whole cyclic form), `key_areas`
(dynamic programming), `naming` (functions by rules), and `patterns` (what shows only over several chords).  Second
readings are found in `alternatives`.  The types of the result live in `readings` and are exported here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from tunes.harmony.analysis.alternatives.others import OtherReadings
from tunes.harmony.analysis.home_key.mode import ends_otherwise
from tunes.harmony.analysis.key_areas.areas import KeyPc, key_of, segment
from tunes.harmony.analysis.key_areas.names import KeyNames
from tunes.harmony.analysis.key_areas.tables import DIATONIC, MARGIN_OPEN
from tunes.harmony.analysis.naming.company import in_company
from tunes.harmony.analysis.naming.label import Label
from tunes.harmony.analysis.naming.labels import is_blues, label
from tunes.harmony.analysis.naming.places import Spot, place, spot
from tunes.harmony.analysis.naming.teller import Teller
from tunes.harmony.analysis.patterns.patterns import with_patterns
from tunes.harmony.analysis.preparation.skeleton import TOP, Skeleton, skeleton
from tunes.harmony.analysis.sounds import DOM, DOMINANTS, NONE, STABLE, SUS, Sound, Stretch, sounds_of
from tunes.harmony.analysis.version import version
from tunes.harmony.charts.bars import Event
from tunes.harmony.charts.model import Chart
from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.explain.rules import RULES, Rule
from tunes.harmony.explain.sentences import Words, reason
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.landing import SLIDES, landing
from tunes.harmony.readings.reading import Alternative, Analysis, KeyArea, Reading

__all__ = [
    "RULES", "Alternative", "Analysis", "Function", "KeyArea", "Reading", "Rule", "analyse",
    "analyse_events", "analyse_sounds", "landing",
]  # fmt: skip

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
    return Analysis(home, areas, readings, (None,) * count, version())


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
        self.others = OtherReadings(bones, self.names, self.keys, self.ranked, self.spots, self.labels, self.blues)

    def analysis(self) -> Analysis:
        home = self.names.key(self.bones.home)
        readings = tuple(self._reading(index) for index in range(len(self.sounds)))
        return Analysis(home, self._areas(readings), readings, landing(readings), version())

    def _label(self, spot: Spot, chord: Stretch, key: KeyPc) -> Label:
        return label(place(spot, chord, key, self.bones.home, self.blues))

    def _reading(self, event: int) -> Reading:
        index = self.stretch_of.get(event)
        if index is None or self.sounds[event].cls == NONE:
            return _no_chord(event, self.names.key(self.keys[index or 0]))
        chord = self._chord(event, index)
        whole = chord is self.bones.chords[index]
        found = self.labels[index] if whole else self._label(self.spots[index], chord, self.keys[index])
        found = in_company(index, found, self.bones, self.labels)
        found = self._suspended(event, index, self._into_the_blues(index, found))
        key = self.names.key(self.keys[index])
        goal = None if found.resolution == "none" else self._goal_event(index, event)
        return Reading(
            event, key, found.function, goal, _way_on(found, goal),
            found.rule, self.teller.reason(index, found, self.keys[index]), self._local(index, found, key),
            self.others.of(index, chord, found), (),
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

    def _areas(self, readings: Sequence[Reading]) -> tuple[KeyArea, ...]:
        areas: list[KeyArea] = []
        keys = [self._key_at(event) for event in range(len(self.sounds))]
        start = 0
        for event in range(1, len(keys) + 1):
            if event == len(keys) or keys[event] != keys[start]:
                areas.append(self._area(keys[start], readings[start:event]))
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

    def _area(self, key: KeyPc, inside_it: Sequence[Reading]) -> KeyArea:
        first, last = inside_it[0].event, inside_it[-1].event
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
        return KeyArea(name, first, last, text if rule == "area-held" else text + self._nearly(inside, inside_it))

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

    def _nearly(self, inside: Sequence[int], readings: Sequence[Reading]) -> str:
        """Says once which other key is heard nearly as well, as the second readings say: all through an area, at its ends,
        or in places."""
        own = self.names.key(self.keys[inside[0]])
        heard: dict[int, set[Key]] = {index: set() for index in inside}
        for reading in readings:
            if reading.alternatives and reading.event in self.stretch_of:
                close = {one.key for one in reading.alternatives if one.key != own and one.margin <= MARGIN_OPEN}
                heard[self.stretch_of[reading.event]] |= close
        rivals = [heard[index] for index in inside]
        counts = Counter(key for found in rivals for key in found)
        if not counts:
            return ""
        key, count = min(counts.items(), key=lambda item: (-item[1], item[0].text))
        held = [key in found for found in rivals]
        where = "In places it"
        if all(held):
            where = "It"
        elif all(held[:count]):
            before = self.keys[inside[0] - 1]
            pivot = inside[0] > 0 and key == self.names.key(before) and self._in_both(inside[:count], before)
            where = "It comes in by a pivot that" if pivot else "Its beginning"
        elif all(held[-count:]):
            where = "Its end"
        return f" {where} can be heard in {key.text} nearly as well."

    def _in_both(self, inside: Sequence[int], other: KeyPc) -> bool:
        """Whether chords belong to their own key and to another: a pivot between the two."""
        return all(
            ((self.bones.chords[index].root - key[0]) % 12, self.bones.chords[index].cls) in DIATONIC[key[1]]
            for index in inside for key in (self.keys[index], other)
        )
