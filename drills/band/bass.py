"""A bass line by rule: the root (or the chart's own bass) where a chord begins, chord tones and steps between, and the last
note before a new chord leads to its root.

Common practice, no single source: a root is approached from a semitone or a tone, or from the fifth above or below; strong
beats take chord tones; no leap is wider than an octave; no bar is played twice running. The line is the cheapest way through
each chord by dynamic programming over costs with a seeded unevenness, so that choruses differ and the same seed gives the
same line. Pitches are sounding ones.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from drills.lines.line import LineBar, LineChord, LineNote
from drills.lines.passage import Passage
from drills.lines.scales import ChordScale, ScaleOf
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import NoteName, Pitch, degree_between

from .styles import Style

LOW, HIGH, MIDDLE = Pitch.parse("E1").midi, Pitch.parse("C4").midi, Pitch.parse("A2").midi
OCTAVE, FIFTH, FOURTH = 12, 7, 5
_IMPOSSIBLE = 10.0**6
_UNEVEN = 1.1  # how far chance goes beside the costs


@dataclass(frozen=True, slots=True)
class Step:
    """One place of the line: a note of `chord` from `start` for `length` crotchets; `opens`: the chord is new here."""

    chord: LineChord
    start: Fraction
    length: Fraction
    opens: bool
    bar: int


def places(passage: Passage, style: Style) -> list[Step]:
    """Where the bass plays: the places of the style and every new chord; nothing where there is no chord."""
    found: list[Step] = []
    chords = iter(passage.chords)
    chord, last = next(chords), None
    for index, bar in enumerate(passage.bars):
        inside = [one for one in passage.chords if bar.start <= one.start < bar.end]
        onsets = sorted({*_onsets(bar, style), *(one.start for one in inside)})
        for place, onset in enumerate(onsets):
            while chord.end <= onset and (following := next(chords, None)):
                chord = following
            end = onsets[place + 1] if place + 1 < len(onsets) else bar.end
            if chord.symbol is None:
                last = None
                continue
            found.append(Step(chord, onset, end - onset, chord.symbol != last, index))
            last = chord.symbol
    return found


def _onsets(bar: LineBar, style: Style) -> list[Fraction]:
    if bar.length == style.length:
        return [bar.start + place for place in style.bass]
    return [bar.start + beat for beat in range(int(-(-bar.length // 1)))]


def bass_line(passage: Passage, style: Style, scale_of: ScaleOf, rng: random.Random) -> list[LineNote]:
    """The notes of the bass, sounding pitch, in order; rests are left out."""
    steps = places(passage, style)
    groups = _groups(steps)
    notes: list[LineNote] = []
    bars: dict[int, list[tuple[Fraction, int]]] = {}
    before: int | None = None
    for index, group in enumerate(groups):
        following = groups[index + 1] if index + 1 < len(groups) else groups[0]
        goal = bass_of(following[0].chord) if following[0].chord.symbol != group[0].chord.symbol else None
        way = _Way(group, goal, before, style.walks, scale_of(group[0].chord), rng)
        bar, start = group[0].bar, passage.bars[group[0].bar].start
        taken = bars.setdefault(bar, [])
        line = way.line(_Stale(taken, bars.get(bar - 1), [step.start - start for step in group]))
        for step, pitch in zip(group, line, strict=True):
            taken.append((step.start - start, pitch))
            name = way.spelled(pitch)
            assert step.chord.symbol is not None
            notes.append(LineNote(
                Pitch.nearest(name, pitch), step.start, step.length, step.chord.event, degree_between(step.chord.symbol.root, name)
            ))  # fmt: skip
        before = line[-1]
    return notes


@dataclass(frozen=True, slots=True)
class _Stale:
    """Whether some pitches make a bar the same as the one before: `taken` is what the bar holds already."""

    taken: list[tuple[Fraction, int]]
    last: list[tuple[Fraction, int]] | None
    at: list[Fraction]

    def __call__(self, pitches: Sequence[int]) -> bool:
        return [*self.taken, *zip(self.at, pitches, strict=True)] == self.last


def _groups(steps: Sequence[Step]) -> list[list[Step]]:
    """Places of one chord inside one bar."""
    groups: list[list[Step]] = []
    for step in steps:
        if (
            groups
            and not step.opens
            and groups[-1][0].bar == step.bar
            and groups[-1][0].chord.symbol == step.chord.symbol
        ):
            groups[-1].append(step)
        else:
            groups.append([step])
    return groups


def bass_of(chord: LineChord) -> NoteName:
    """What the bass plays where a chord begins: the chart's own bass, else the root."""
    assert chord.symbol is not None
    return chord.symbol.bass or chord.symbol.root


class _Way:
    """The choice of notes for one chord in one bar."""

    def __init__(
        self,
        group: Sequence[Step],
        goal: NoteName | None,
        before: int | None,
        walks: bool,
        scale: ChordScale,
        rng: random.Random,
    ) -> None:
        symbol = group[0].chord.symbol
        assert symbol is not None
        self.group, self.before, self.walks, self.rng = group, before, walks, rng
        self.own = bass_of(group[0].chord)
        self.goal = goal
        self.chord = {tone.pc for tone in strong_tones(symbol)}
        self.scale = scale.notes
        self.names = self._names(symbol)

    def _names(self, symbol: ChordSymbol) -> dict[int, NoteName]:
        """How each pitch class is spelled: as the chord, the scale, or the goal's neighbours have it."""
        names: dict[int, NoteName] = {}
        for name in (self.own, *symbol.tones, *self.scale):
            names.setdefault(name.pc, name)
        return names

    def spelled(self, pitch: int) -> NoteName:
        """The name of a note; a chromatic one by the letter next to where it leads."""
        if (found := self.names.get(pitch % 12)) is not None:
            return found
        toward = self.goal or self.own
        for letter in "CDEFGAB":
            for alter in (0, -1, 1):
                name = NoteName(letter, alter)
                if name.pc == pitch % 12 and (name.step - toward.step) % 7 in (1, 6):
                    return name
        return next(
            NoteName(letter, alter)
            for alter in (0, -1, 1)
            for letter in "CDEFGAB"
            if NoteName(letter, alter).pc == pitch % 12
        )

    def line(self, stale: Callable[[Sequence[int]], bool]) -> list[int]:
        """The cheapest pitches; another way when `stale` says that the bar was just played, unless that would leap."""
        banned: set[tuple[int, int]] = set()
        found = self._cheapest(banned)
        for place in [*range(len(self.group) - 1, 0, -1), 0]:
            if not stale(found):
                break
            banned.add((place, found[place]))
            other = self._cheapest(banned)
            if self._leaps(other):
                banned.discard((place, found[place]))
            else:
                found = other
        return found

    def _leaps(self, pitches: Sequence[int]) -> bool:
        whole = pitches if self.before is None else [self.before, *pitches]
        return any(abs(a - b) > OCTAVE for a, b in pairwise(whole))

    def _cheapest(self, banned: set[tuple[int, int]]) -> list[int]:
        layers = [
            [pitch for pitch in self._candidates(place) if (place, pitch) not in banned]
            for place in range(len(self.group))
        ]
        costs = {pitch: self._enter(pitch) for pitch in layers[0]}
        back: list[dict[int, int]] = []
        for place in range(1, len(layers)):
            arrive: dict[int, float] = {}
            came: dict[int, int] = {}
            for pitch in layers[place]:
                own = self._own_cost(place, pitch)
                best = min(costs, key=lambda one, pitch=pitch: costs[one] + self._move(one, pitch))  # type: ignore[misc]
                arrive[pitch] = costs[best] + self._move(best, pitch) + own
                came[pitch] = best
            costs = arrive
            back.append(came)
        at = min(costs, key=lambda pitch: costs[pitch] + self._leave(pitch))
        path = [at]
        for came in reversed(back):
            path.append(came[path[-1]])
        return path[::-1]

    def _candidates(self, place: int) -> list[int]:
        if place == 0 and self.group[0].opens:
            return _all(self.own.pc)
        allowed = set(self.chord) | {self.own.pc}
        last = place == len(self.group) - 1
        if self.walks or last:
            allowed |= {name.pc for name in self.scale}
        if last and self.goal is not None:
            allowed |= {(self.goal.pc + step) % 12 for step in (-1, 1)}
        return [pitch for pc in sorted(allowed) for pitch in _all(pc)]

    def _enter(self, pitch: int) -> float:
        cost = self._own_cost(0, pitch)
        return cost if self.before is None else cost + self._move(self.before, pitch)

    def _own_cost(self, place: int, pitch: int) -> float:
        strong = place == 0 or (
            self.group[place].start.denominator == 1 and (self.group[place].start - self.group[0].start) % 2 == 0
        )
        cost = abs(pitch - MIDDLE) * 0.05 + self.rng.random() * _UNEVEN
        if pitch % 12 not in self.chord and pitch % 12 != self.own.pc:
            cost += 1.6 if strong else 0.5
        if place and pitch % 12 == self.own.pc:
            cost += 1.2  # back on the root in the middle of a chord: the line stands still
        return cost

    def _move(self, one: int, other: int) -> float:
        gap = abs(other - one)
        if gap > OCTAVE:
            return _IMPOSSIBLE * gap
        if gap == 0:
            return _IMPOSSIBLE / 10 if self.walks else 2.0
        return (0, 0.0, 0.1, 0.5, 0.6, 0.8, 2.0, 1.0, 1.8, 1.8, 2.2, 3.0, 1.4)[gap]

    def _leave(self, pitch: int) -> float:
        """How well a last note leads to the next root, in the octave that is nearest."""
        if self.goal is None:
            return 0.0
        gap = min(abs(pitch - there) for there in _all(self.goal.pc))
        if len(self.group) == 1 and self.group[0].opens:
            return 0.0 if gap <= OCTAVE else _IMPOSSIBLE
        return {0: 3.0, 1: 0.0, 2: 0.3, FOURTH: 0.9, FIFTH: 0.9}.get(gap, 4.0)


def strong_tones(symbol: ChordSymbol) -> list[NoteName]:
    """Root, 3rd, 5th and 7th (or what stands for them): what a bass rests on."""
    wanted = ("1", "b3", "3", "4", "b5", "5", "#5", "6", "bb7", "b7", "7")
    return [tone for degree, tone in zip(symbol.degrees, symbol.tones, strict=True) if degree in wanted]


def _all(pc: int) -> list[int]:
    return [pitch for pitch in range(LOW, HIGH + 1) if pitch % 12 == pc]
