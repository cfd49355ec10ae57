"""Comping: four-note voicings that keep the guide tones and move little, in rhythms drawn by a seed.

Common practice, no single source: 3rd and 7th (what stands for them) are always there, the root is left to the bass, the 9th
and the 5th or 13th colour; voicings lie between C3 and A4 and move to the nearest one; a chord on the last half beat
of a bar is the next one, early. Pitches are sounding ones.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from drills.lines.guide_tones import guide_tones_of
from drills.lines.line import LineBar, LineChord
from drills.lines.passage import Passage
from drills.lines.scales import ScaleOf
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import NoteName, Pitch

from .styles import Style

LOW, HIGH, MIDDLE = Pitch.parse("C3").midi, Pitch.parse("A4").midi, Pitch.parse("F#3").midi + 4
MUDDY = Pitch.parse("F3").midi  # below it no semitones
HALF_BEAT = Fraction(1, 2)
SECOND_COLOURS = ("13", "b13", "#5", "5", "b5", "6")


@dataclass(frozen=True, slots=True)
class Voiced:
    """A chord as the piano plays it: pitches low to high, from `start` for `length` crotchets, of the chord `event`."""

    start: Fraction
    length: Fraction
    pitches: tuple[Pitch, ...]
    event: int


def tones_of(symbol: ChordSymbol, ninth: NoteName | None) -> tuple[NoteName, ...]:
    """What a voicing holds: 3rd, 7th, a 9th and one more colour, as the symbol or the scale has them; no root of a seventh
    chord, all tones of a diminished one."""
    if symbol.family == "diminished":
        return tuple(dict.fromkeys(symbol.tones))[:4]
    degrees = dict(zip(symbol.degrees, symbol.tones, strict=True))
    names = [tone.name for tone in guide_tones_of(symbol)]
    written = next((degrees[degree] for degree in ("b9", "9", "#9") if degree in degrees), None)
    if written or (ninth is not None and "5" not in symbol.degrees[1:2]):
        names.append(written or ninth)  # type: ignore[arg-type]
    names += [degrees[degree] for degree in ("#11", *SECOND_COLOURS) if degree in degrees][:1]
    kept: dict[int, NoteName] = {}
    for name in names:
        kept.setdefault(name.pc, name)
    return tuple(kept.values())


def voicings(names: Sequence[NoteName]) -> list[tuple[Pitch, ...]]:
    """Every close position of some notes in the range of the left hand and the middle of the piano."""
    found = []
    order = sorted(names, key=lambda name: name.pc)
    for turn in range(len(order)):
        stack = [*order[turn:], *order[:turn]]
        for bottom in _octaves(stack[0]):
            pitches = [bottom]
            for name in stack[1:]:
                pitches.append(_next_above(name, pitches[-1]))
            if pitches[-1].midi <= HIGH:
                found.append(tuple(pitches))
    return found


def _octaves(name: NoteName) -> list[Pitch]:
    first = Pitch.nearest(name, LOW + 5)
    return [Pitch(name, first.octave + up) for up in (0, 1, 2) if LOW <= Pitch(name, first.octave + up).midi <= HIGH]


def _next_above(name: NoteName, pitch: Pitch) -> Pitch:
    return Pitch.nearest(name, pitch.midi + ((name.pc - pitch.midi) % 12 or 12))


def nearest_voicing(names: Sequence[NoteName], before: tuple[Pitch, ...]) -> tuple[Pitch, ...]:
    """The voicing that moves least from the one before; the one nearest to the middle at the beginning."""
    return min(voicings(names), key=lambda pitches: (_muddy(pitches), _distance(pitches, before), pitches[0].midi))


def _muddy(pitches: tuple[Pitch, ...]) -> int:
    return sum(a.midi < MUDDY and b.midi - a.midi < 2 for a, b in pairwise(pitches))


def _distance(pitches: tuple[Pitch, ...], before: tuple[Pitch, ...]) -> float:
    centre = sum(pitch.midi for pitch in pitches) / len(pitches)
    drift = abs(centre - MIDDLE) * 0.4
    if not before:
        return drift
    if len(before) == len(pitches):
        return drift + sum(abs(a.midi - b.midi) for a, b in zip(pitches, before, strict=True))
    return drift + 4 * abs(centre - sum(pitch.midi for pitch in before) / len(before))


def comping(passage: Passage, style: Style, scale_of: ScaleOf, rng: random.Random) -> list[Voiced]:
    """What the piano plays in one chorus. The last place of the chorus may bring its first chord early."""
    found: list[Voiced] = []
    held: tuple[Pitch, ...] = ()
    rhythm = -1
    for index, bar in enumerate(passage.bars):
        rhythm = _other(rng, len(style.comping), rhythm)
        onsets = style.comping[rhythm] if bar.length == style.length else ((Fraction(0), bar.length),)
        for start, length in _with_chords(passage, bar, onsets):
            chord = chord_at(passage, index, start)
            if chord is None or chord.symbol is None:
                continue
            held = nearest_voicing(tones_of(chord.symbol, scale_of(chord).ninth), held)
            found.append(Voiced(start, length, held, chord.event))
    return found


def _other(rng: random.Random, count: int, last: int) -> int:
    """A rhythm that was not played in the bar before."""
    return rng.choice([place for place in range(count) if place != last or count == 1])


def _with_chords(
    passage: Passage, bar: LineBar, onsets: Sequence[tuple[Fraction, Fraction]]
) -> list[tuple[Fraction, Fraction]]:
    """The places of a rhythm; a chord of half a bar or less that none of them would bring is played where it begins."""
    places = [(bar.start + at, length) for at, length in onsets]
    for chord in passage.chords:
        if not bar.start <= chord.start < bar.end or chord.symbol is None:
            continue
        early = chord.start - HALF_BEAT
        if not any(chord.start <= at < chord.end - HALF_BEAT or at == early for at, _ in places):
            places.append((chord.start, min(chord.duration, Fraction(1))))
    places.sort()
    ends = [*(at for at, _ in places[1:]), bar.end]
    return [(at, min(length, end - at)) for (at, length), end in zip(places, ends, strict=True)]


def chord_at(passage: Passage, bar: int, time: Fraction) -> LineChord | None:
    """The chord that a place brings: what sounds there, or the next one when it begins half a beat later."""
    later = time + HALF_BEAT
    if later >= passage.bars[-1].end and passage.bars[bar].end == later:
        return passage.chords[0]
    off = time.denominator != 1
    coming = next((chord for chord in passage.chords if off and chord.start == later), None)
    return coming or next((chord for chord in passage.chords if chord.start <= time < chord.end), None)
