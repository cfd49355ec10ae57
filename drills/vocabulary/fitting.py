"""The pitches of a line over other chords, on an instrument: by degree, an octave away or turning where it must."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from drills.lines.compass import Compass
from drills.lines.readable import LEADING_NOTE, simpler
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.chords.vocabulary import degree_parts
from tunes.harmony.pitch.spelling import Key, NoteName, Pitch, degree_interval
from tunes.melody import degree_words

from .cut import CutLine

OCTAVE = 12
_OCTAVES = ("two octaves down", "an octave down", "", "an octave up", "two octaves up")
_HARD_SIGNS = 2
_SEVENTH = 7
"""A tension is no chord tone to join with."""
WIDEST_TURN = 12
"""Semitones of the widest leap that a turn may make."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """Printed pitches, one for each note of the line, or none and the reason.

    done     what was done to the line, in words ("an octave down").
    why_not  "" when it fits.
    """

    pitches: tuple[Pitch, ...] = ()
    done: tuple[str, ...] = ()
    why_not: str = ""


def fitted(line: CutLine, symbols: Sequence[ChordSymbol], compass: Compass, keys: Sequence[Key] = ()) -> Fitted:
    """A line over the chords given (printed, one for each of its own), inside the whole range of the instrument.

    The octave nearest to where it was played is taken, the part of the range that is easy first; where none holds it all, it
    turns once at a note that leads nowhere. keys are those of the chords: the leading note of a minor key keeps its two sharps.
    """
    names = [symbols[note.chord].root + degree_interval(note.degree) for note in line.notes]
    played = line.first_midi + compass.shift.semitones
    first = Pitch.nearest(names[0], played).midi
    heights = [first + note.height for note in line.notes]
    stays = [bool(keys) and keys[note.chord].mode == "minor" and name == keys[note.chord].tonic + LEADING_NOTE
             for note, name in zip(line.notes, names, strict=True)]  # fmt: skip
    if any((height - name.pc) % OCTAVE for height, name in zip(heights, names, strict=True)):
        return Fitted(why_not="its chords stand in other distances here")
    for low, high in ((compass.easy_low, compass.easy_high), (compass.low, compass.high)):
        moves = _octaves(heights, low, high)
        if moves:
            by = min(moves, key=lambda move: (abs(move), move))
            return Fitted(_spelled(names, [h + by for h in heights], stays), _said(by))
    return _turned(line, names, heights, compass, stays)


def _octaves(heights: Sequence[int], low: int, high: int) -> list[int]:
    return [
        move
        for move in range(-4 * OCTAVE, 5 * OCTAVE, OCTAVE)
        if min(heights) + move >= low and max(heights) + move <= high
    ]


def _said(by: int) -> tuple[str, ...]:
    if not by:
        return ()
    octaves = by // OCTAVE
    return (_OCTAVES[octaves + 2] if abs(octaves) <= 2 else f"{abs(octaves)} octaves {'up' if by > 0 else 'down'}",)


def _turned(
    line: CutLine, names: Sequence[NoteName], heights: Sequence[int], compass: Compass, stays: Sequence[bool]
) -> Fitted:
    """One turn by an octave: where it leaps least, not inside an approach."""
    best: tuple[tuple[int, int, int], int, int, int] | None = None
    for at in range(1, len(heights)):
        if any(n.leads is not None and index < at <= n.leads for index, n in enumerate(line.notes)):
            continue
        before = _octaves(heights[:at], compass.low, compass.high)
        after = _octaves(heights[at:], compass.low, compass.high)
        for a in before:
            for b in after:
                leap = abs(heights[at] + b - heights[at - 1] - a)
                if abs(a - b) == OCTAVE and leap <= WIDEST_TURN:
                    rank = (leap, abs(a) + abs(b), at)
                    if best is None or rank < best[0]:
                        best = (rank, at, a, b)
    if best is None:
        width = compass.high - compass.low
        return Fitted(why_not=f"it spans {line.span} semitones, the instrument has {width}, and no note to turn at")
    _, at, a, b = best
    moved = [h + (a if n < at else b) for n, h in enumerate(heights)]
    way = "down" if b < a else "up"
    turn = f"from the {degree_words(line.notes[at].degree)} (note {at + 1}) on an octave {way}"
    return Fitted(_spelled(names, moved, stays), (*_said(a), turn))


def _spelled(names: Sequence[NoteName], midi: Sequence[int], stays: Sequence[bool]) -> tuple[Pitch, ...]:
    """By degree; a name with two signs is read on its neighbour, unless it stays."""
    found = []
    for name, at, stay in zip(names, midi, stays, strict=True):
        pitch = Pitch.nearest(name, at)
        found.append(simpler(pitch) if abs(name.alter) >= _HARD_SIGNS and not stay else pitch)
    return tuple(found)


def nearest_tone(symbol: ChordSymbol, near: Pitch, compass: Compass) -> tuple[Pitch, str]:
    """The chord tone nearest to a pitch, guide tones first among those as near, and its degree."""
    found = []
    for degree, name in zip(symbol.degrees, symbol.tones, strict=True):
        if degree_parts(degree)[0] > _SEVENTH:
            continue
        pitch = Pitch.nearest(name, near.midi)
        for octave in (-1, 0, 1):
            one = Pitch(name, pitch.octave + octave)
            if compass.low <= one.midi <= compass.high:
                guide = degree not in ("3", "b3", "b7", "7", "6", "4")
                found.append((abs(one.midi - near.midi), guide, one.midi, one, degree))
    _, _, _, pitch, degree = min(found, key=lambda row: row[:3])
    return pitch, degree
