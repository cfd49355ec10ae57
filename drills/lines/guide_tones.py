"""The smoothest line of 3rds and 7ths through a passage.

Guide tones are the 3rd and the 7th of each chord, the 6th standing for the 7th on sixth chords and the 4th for
the 3rd on suspended ones (common practice). Where a chord has neither 7th nor 6th its root stands in. After a
dominant that rises a tone to its goal (bVII7 to I) the 5th of the goal is allowed too: that resolution is not a
fall of a fifth, and the nearest tone is sought (common practice).

Where the root falls a fifth the roles swap, 3rd to 7th and 7th to 3rd (common practice): a rule, not an outcome,
because a line that broke it once could be shorter as a whole. Within it the line is chosen by dynamic programming
over the whole passage: the least total movement in semitones, each move counted the shorter way round the octave;
among equals the one whose moves are more even. The octave is settled
afterwards: the contour is kept, and where it would leave the register the line changes octave while a chord is held or
at a rest, never on the way into the next chord: the ear follows a resolution, not a leap (common practice, no source).
Those changes are announced and are not counted as movement.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise, permutations

from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import NoteName, Pitch

from .compass import Compass
from .passage import Passage, Span

THIRDS = ("3", "b3", "4", "2")
SEVENTHS = ("7", "b7", "bb7", "6")
TWO_VOICE_SPAN = 19
WHOLE_TONE = 2
# What an octave costs: a semitone outside the register, or outside the easy range; a change at a rest, while a chord is
# held for a bar or more, or for half a bar; and on the way into another chord, which only a want of range excuses.
_OUTSIDE, _TOO_FAR = 12, 1000
_AT_REST, _WHILE_HELD, _IN_HALF_A_BAR, _INTO_A_CHORD = 15, 20, 60, 6000
HELD, HALF_A_BAR = Fraction(4), Fraction(2)
_UNREACHABLE = ((10**6, 10**6), 0)


@dataclass(frozen=True, slots=True)
class Tone:
    """A guide tone: the degree it is of its chord, and its name."""

    degree: str
    name: NoteName


@dataclass(frozen=True, slots=True)
class GuideLine:
    """One choice of tones per span (None for N.C.): `tones[i][v]` is what voice v plays; `movement` in semitones."""

    tones: tuple[tuple[Tone, ...] | None, ...]
    movement: int


def third_of(symbol: ChordSymbol) -> Tone | None:
    """The 3rd, or the 4th (2nd) of a suspended chord."""
    return next((Tone(d, symbol.tone(d)) for d in THIRDS if d in symbol.degrees), None)


def seventh_of(symbol: ChordSymbol) -> Tone | None:
    """The 7th, or the 6th that stands for it."""
    return next((Tone(d, symbol.tone(d)) for d in SEVENTHS if d in symbol.degrees), None)


def guide_tones_of(symbol: ChordSymbol) -> tuple[Tone, Tone]:
    """3rd and 7th, with what stands for them; a power chord gives its 5th and its root."""
    third = third_of(symbol) or Tone("5", symbol.fifth or symbol.root)
    return third, seventh_of(symbol) or Tone("1", symbol.root)


def options(symbol: ChordSymbol, before: ChordSymbol | None) -> tuple[Tone, ...]:
    """The tones a line may take on a chord that follows `before`."""
    tones = guide_tones_of(symbol)
    rises = (
        before is not None
        and before.family == "dominant"
        and ((symbol.root.pc - before.root.pc) % 12 == WHOLE_TONE and symbol.family in ("major", "minor"))
    )
    fifth = symbol.fifth
    return (*tones, Tone("5", fifth)) if rises and fifth else tones


def move(one: NoteName, other: NoteName) -> int:
    """Semitones from a note to another the shorter way, −6 to 5."""
    return (other.pc - one.pc + 6) % 12 - 6


def falls_a_fifth(one: ChordSymbol, other: ChordSymbol) -> bool:
    """Root down a fifth or up a fourth."""
    return (other.root.pc - one.root.pc) % 12 == 5


def smoothest(symbols: Sequence[ChordSymbol | None], start: str = "", voices: int = 1) -> GuideLine:
    """The line of least total movement.

    `symbols` are the spans' chords in order (None: N.C., the line rests and goes on from where it was). `start`
    "3" or "7" fixes the tone of the first voice on the first chord; "" takes the smoother. Two voices take
    different tones of every chord.
    """
    heard = [symbol for symbol in symbols if symbol is not None]
    if not heard:
        return GuideLine(tuple(None for _ in symbols), 0)
    layers = [_states(symbol, heard[i - 1] if i else None, voices) for i, symbol in enumerate(heard)]
    layers[0] = [state for state in layers[0] if _starts_on(state[0], heard[0], start)] or layers[0]
    path, movement = _best_path(heard, layers)
    chosen = iter(path)
    return GuideLine(tuple(next(chosen) if symbol else None for symbol in symbols), movement)


def _states(symbol: ChordSymbol, before: ChordSymbol | None, voices: int) -> list[State]:
    tones = options(symbol, before)
    if voices == 1:
        return [(tone,) for tone in tones]
    return list(permutations(tones, 2))


def _starts_on(tone: Tone, symbol: ChordSymbol, start: str) -> bool:
    third, seventh = guide_tones_of(symbol)
    return not start or tone == (third if start == "3" else seventh)


def may_follow(one: ChordSymbol, tone: Tone, other: ChordSymbol, next_tone: Tone) -> bool:
    """Whether a voice may go from a tone of one chord to a tone of the next: roles swap where the root falls a fifth."""
    if not falls_a_fifth(one, other):
        return True
    third, seventh = guide_tones_of(one)
    next_third, next_seventh = guide_tones_of(other)
    if tone == third:
        return next_tone == next_seventh
    return tone != seventh or next_tone == next_third


State = tuple[Tone, ...]


def _best_path(symbols: Sequence[ChordSymbol], layers: Sequence[list[State]]) -> tuple[list[State], int]:
    costs: list[tuple[int, int]] = [(0, 0)] * len(layers[0])
    steps: list[list[int]] = []
    for i, (before, here) in enumerate(pairwise(layers)):
        arrivals = []
        for state in here:
            ways = [
                (_added(cost, _cost(earlier, state)), index)
                for index, (earlier, cost) in enumerate(zip(before, costs, strict=True))
                if all(map(_follows(symbols[i], symbols[i + 1]), earlier, state))
            ]
            arrivals.append(min(ways) if ways else _UNREACHABLE)
        costs = [cost for cost, _ in arrivals]
        steps.append([index for _, index in arrivals])
    at = min(range(len(costs)), key=lambda index: costs[index])
    total = costs[at][0]
    path = [layers[-1][at]]
    for layer, back in zip(reversed(layers[:-1]), reversed(steps), strict=True):
        at = back[at]
        path.append(layer[at])
    return path[::-1], total


def _follows(one: ChordSymbol, other: ChordSymbol) -> Callable[[Tone, Tone], bool]:
    return lambda tone, next_tone: may_follow(one, tone, other, next_tone)


def _cost(one: State, other: State) -> tuple[int, int]:
    moves = [move(a.name, b.name) for a, b in zip(one, other, strict=True)]
    return sum(abs(step) for step in moves), sum(step * step for step in moves)


def _added(one: tuple[int, int], other: tuple[int, int]) -> tuple[int, int]:
    return one[0] + other[0], one[1] + other[1]


def greedy_movement(symbols: Sequence[ChordSymbol | None], start: str = "3") -> int:
    """What a line costs that always takes the nearest tone of the next chord: for comparison only."""
    heard = [symbol for symbol in symbols if symbol is not None]
    if not heard:
        return 0
    third, seventh = guide_tones_of(heard[0])
    at, total = (third if start == "3" else seventh), 0
    for before, symbol in pairwise(heard):
        allowed = [tone for tone in options(symbol, before) if may_follow(before, at, symbol, tone)]
        step = min(allowed, key=lambda tone: abs(move(at.name, tone.name)))
        total += abs(move(at.name, step.name))
        at = step
    return total


@dataclass(frozen=True, slots=True)
class Placed:
    """One span of a line in its octave: what each voice plays, and what it plays from `turn` on (crotchets from the
    start of the line) where it changes octave while the chord is held; `turn` None: one pitch to the end."""

    first: tuple[Pitch, ...]
    then: tuple[Pitch, ...]
    turn: Fraction | None = None

    def at(self, time: Fraction) -> tuple[Pitch, ...]:
        """What sounds at a time in crotchets."""
        return self.first if self.turn is None or time < self.turn else self.then


def pitches(line: GuideLine, spans: Sequence[Span], compass: Compass) -> list[Placed | None]:
    """The line in its octave, span by span (None: it rests): contour kept, octave changed where the register ends."""
    voices = max((len(tones) for tones in line.tones if tones), default=1)
    window = compass.guide_window(TWO_VOICE_SPAN) if voices > 1 else compass.guide_window()
    contour = _contour(line, sum(window) // 2)
    heard = [index for index, tones in enumerate(contour) if tones]
    ways = _shifts([contour[index] or () for index in heard], _joints(heard, spans), window, compass)
    placed: list[Placed | None] = [None] * len(contour)
    for index, (enter, leave) in zip(heard, ways, strict=True):
        turn = turning_point(spans[index]) if enter != leave else None
        placed[index] = Placed(_shifted(contour[index], enter), _shifted(contour[index], leave), turn)
    return placed


def _shifted(pitches_: tuple[Pitch, ...] | None, octaves: int) -> tuple[Pitch, ...]:
    return tuple(Pitch(pitch.name, pitch.octave + octaves) for pitch in pitches_ or ())


def turning_point(span: Span) -> Fraction | None:
    """Where a held chord may change octave: where it is written again, nearest to its middle; else on the beat at its
    middle. None for a chord shorter than half a bar."""
    if span.end - span.start < HALF_A_BAR:
        return None
    middle = (span.start + span.end) / 2
    again = [chord.start for chord in span.chords[1:]]
    return (
        min(again, key=lambda time: (abs(time - middle), time)) if again else span.start + (span.end - span.start) // 2
    )


@dataclass(frozen=True, slots=True)
class _Joint:
    """What a change of octave costs at one span: on the way into it, and while it is held (None: too short)."""

    into: int
    held: int | None


def _joints(heard: Sequence[int], spans: Sequence[Span]) -> list[_Joint]:
    """For every sounding span of a line; `heard` are their indices in `spans`."""
    found = []
    for place, index in enumerate(heard):
        span = spans[index]
        rests = place == 0 or heard[place - 1] != index - 1 or not span.joined or spans[index - 1].end != span.start
        long = span.end - span.start >= HELD
        held = None if turning_point(span) is None else _WHILE_HELD if long else _IN_HALF_A_BAR
        found.append(_Joint(_AT_REST if rests else _INTO_A_CHORD, held))
    return found


def _contour(line: GuideLine, middle: int) -> list[tuple[Pitch, ...] | None]:
    """Each voice following its moves from a start near the middle, without regard to range."""
    at: tuple[Pitch, ...] = ()
    result: list[tuple[Pitch, ...] | None] = []
    for tones in line.tones:
        if tones is None:
            result.append(None)
            continue
        if not at:
            first = Pitch.nearest(tones[0].name, middle)
            at = (first, *(_below(tone.name, first) for tone in tones[1:]))
        else:
            at = tuple(_moved(pitch, tone.name) for pitch, tone in zip(at, tones, strict=True))
        result.append(at)
    return result


def _below(name: NoteName, pitch: Pitch) -> Pitch:
    under = Pitch.nearest(name, pitch.midi - 5)
    return under if under.midi < pitch.midi else Pitch(name, under.octave - 1)


def _moved(pitch: Pitch, name: NoteName) -> Pitch:
    return Pitch.nearest(name, pitch.midi + move(pitch.name, name))


Way = tuple[int, int]  # the octave shift a span begins with, and the one it ends with


def _shifts(
    contour: Sequence[tuple[Pitch, ...]], joints: Sequence[_Joint], window: tuple[int, int], compass: Compass
) -> list[Way]:
    """Octave shifts of each span: inside the window, with few changes, and those where they hurt least (dynamic programming)."""
    best: dict[int, tuple[int, list[Way]]] = {}
    for index, (tones, joint) in enumerate(zip(contour, joints, strict=True)):
        choices = _near_shifts(tones, window)
        outside = {shift: _outside(tones, shift, window, compass) for shift in choices}
        entries = {shift: _arrival(best, shift, joint.into) if index else (0, []) for shift in choices}
        best = {}
        for leave in choices:
            ways = [
                (entries[enter][0] + _inside(outside, enter, leave, joint.held or 0), enter)
                for enter in choices
                if enter == leave or joint.held is not None
            ]
            cost, enter = min(ways)
            best[leave] = (cost, [*entries[enter][1], (enter, leave)])
    return min(best.values(), key=lambda found: found[0])[1] if best else []


def _arrival(best: dict[int, tuple[int, list[Way]]], shift: int, change: int) -> tuple[int, list[Way]]:
    """The cheapest way to begin a span at a shift."""
    return min(
        ((cost + abs(shift - earlier) * change, way) for earlier, (cost, way) in best.items()),
        key=lambda found: found[0],
    )


def _inside(outside: dict[int, int], enter: int, leave: int, change: int) -> int:
    """What one span costs: the mean of its two halves, and its change."""
    return (outside[enter] + outside[leave]) // 2 + abs(leave - enter) * change


def _near_shifts(pitches_: tuple[Pitch, ...], window: tuple[int, int]) -> list[int]:
    middle = sum(pitch.midi for pitch in pitches_) / len(pitches_)
    home = round((sum(window) / 2 - middle) / 12)
    return [home, home - 1, home + 1]


def _outside(pitches_: tuple[Pitch, ...], shift: int, window: tuple[int, int], compass: Compass) -> int:
    sounds = [pitch.midi + 12 * shift for pitch in pitches_]
    little = sum(max(window[0] - sound, sound - window[1], 0) for sound in sounds)
    far = sum(max(compass.easy_low - sound, sound - compass.easy_high, 0) for sound in sounds)
    drift = abs(sum(sounds) // len(sounds) - sum(window) // 2) // 6
    return _OUTSIDE * little + _TOO_FAR * far + drift


def said(passage: Passage) -> list[tuple[str, list[int]]]:
    """What stands for what, with the bars, as played, that it concerns."""
    found: dict[str, list[int]] = {}
    for chord in passage.chords:
        for text in _substitutions(chord.symbol):
            bars = found.setdefault(text, [])
            number = passage.bar_number(chord.start)
            if number not in bars:
                bars.append(number)
    return list(found.items())


def _substitutions(symbol: ChordSymbol | None) -> list[str]:
    if symbol is None:
        return ["No chord: the line rests"]
    texts = []
    if third := third_of(symbol):
        if third.degree in ("4", "2"):
            texts.append(f"On suspended chords the {'4th' if third.degree == '4' else '2nd'} stands for the 3rd")
    else:
        texts.append("Without a 3rd the 5th stands in")
    seventh = seventh_of(symbol)
    if seventh is None:
        texts.append("Without a 7th the root stands in")
    elif seventh.degree == "6":
        texts.append("On sixth chords the 6th stands for the 7th")
    if symbol.bass is not None:
        texts.append("Over another bass the guide tones are those of the chord, not of the bass")
    return texts
