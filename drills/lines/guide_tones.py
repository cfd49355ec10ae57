"""The smoothest line of 3rds and 7ths through a passage.

Guide tones are the 3rd and the 7th of each chord, the 6th standing for the 7th on sixth chords and the 4th for
the 3rd on suspended ones (common practice). Where a chord has neither 7th nor 6th its root stands in. After a
dominant that rises a tone to its goal (bVII7 to I) the 5th of the goal is allowed too: that resolution is not a
fall of a fifth, and the nearest tone is sought (common practice).

Where the root falls a fifth the roles swap, 3rd to 7th and 7th to 3rd (common practice): a rule, not an outcome,
because a line that broke it once could be shorter as a whole. Within it the line is chosen by dynamic programming
over the whole passage: the least total movement in semitones, each move counted the shorter way round the octave;
among equals the one whose moves are more even. The octave is settled
afterwards: the contour is kept, and where it would leave the register the line changes octave, at the beginning of
a phrase whenever that is enough. Those changes are announced and are not counted as movement.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise, permutations

from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import NoteName, Pitch

from .compass import Compass
from .passage import Passage, Span

THIRDS = ("3", "b3", "4", "2")
SEVENTHS = ("7", "b7", "bb7", "6")
TWO_VOICE_SPAN = 19
WHOLE_TONE = 2
# What an octave costs: a semitone outside the register, or outside the easy range; a change within a phrase, or at one.
_OUTSIDE, _TOO_FAR, _MID_PHRASE, _NEW_PHRASE = 12, 1000, 200, 20
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
    rises = before is not None and before.family == "dominant" and (
        (symbol.root.pc - before.root.pc) % 12 == WHOLE_TONE and symbol.family in ("major", "minor")
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


def pitches(line: GuideLine, spans: Sequence[Span], compass: Compass) -> list[tuple[Pitch, ...] | None]:
    """The line in its octave: contour kept, octave changed where the register ends, at phrases if that is enough."""
    voices = max((len(tones) for tones in line.tones if tones), default=1)
    window = compass.guide_window(TWO_VOICE_SPAN) if voices > 1 else compass.guide_window()
    contour = _contour(line, sum(window) // 2)
    heard = [index for index, tones in enumerate(contour) if tones]
    shifts = _shifts([contour[index] or () for index in heard], [spans[index] for index in heard], window, compass)
    placed: list[tuple[Pitch, ...] | None] = [None] * len(contour)
    for index, shift in zip(heard, shifts, strict=True):
        placed[index] = tuple(Pitch(p.name, p.octave + shift) for p in contour[index] or ())
    return placed


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
            at = tuple(
                _moved(pitch, tone.name) for pitch, tone in zip(at, tones, strict=True)
            )
        result.append(at)
    return result


def _below(name: NoteName, pitch: Pitch) -> Pitch:
    under = Pitch.nearest(name, pitch.midi - 5)
    return under if under.midi < pitch.midi else Pitch(name, under.octave - 1)


def _moved(pitch: Pitch, name: NoteName) -> Pitch:
    return Pitch.nearest(name, pitch.midi + move(pitch.name, name))


def _shifts(
    contour: Sequence[tuple[Pitch, ...]], spans: Sequence[Span], window: tuple[int, int], compass: Compass
) -> list[int]:
    """Octave shift of each span: inside the window, with few changes, and those at phrases (dynamic programming)."""
    choices = [_near_shifts(pitches_, window) for pitches_ in contour]
    costs = [_outside(contour[0], shift, window, compass) for shift in choices[0]]
    steps: list[list[int]] = []
    for index in range(1, len(contour)):
        change = _NEW_PHRASE if spans[index].phrase or not spans[index].joined else _MID_PHRASE
        arrivals = []
        for shift in choices[index]:
            ways = [
                (cost + abs(shift - earlier) * change, place)
                for place, (earlier, cost) in enumerate(zip(choices[index - 1], costs, strict=True))
            ]
            best, place = min(ways)
            arrivals.append((best + _outside(contour[index], shift, window, compass), place))
        costs = [cost for cost, _ in arrivals]
        steps.append([place for _, place in arrivals])
    at = costs.index(min(costs))
    path = [choices[-1][at]]
    for layer, back in zip(reversed(choices[:-1]), reversed(steps), strict=True):
        at = back[at]
        path.append(layer[at])
    return path[::-1]


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
    """What stands for what, with the printed bars it concerns."""
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
