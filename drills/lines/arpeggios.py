"""Arpeggios through a passage: up, down or alternating from the root or the 3rd, or running on to the nearest tone.

Patterns are common practice (1-3-5-7 up, 7-5-3-1 down, 3-5-7-9; continuous quavers across the barline to the
nearest tone of the next chord inside a fixed range; two chords in a bar take four quavers each).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType

from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import NoteName, degree_between

from .carried import CarriedNotes, named
from .cells import UP, Rung, fill, place_ladder, run_on, way
from .compass import Compass
from .guide_tones import seventh_of, third_of
from .line import LineChord, LineNote
from .passage import Passage

STARTS = ("root", "third", "nearest")
NINTHS = ("9", "b9", "#9", "2")
NinthOf = Callable[[LineChord], NoteName]
Named = tuple[str, NoteName]


def chord_tones(symbol: ChordSymbol) -> tuple[Named, ...]:
    """1, 3, 5, 7 with what stands for them: the 4th on suspended, the 6th on sixth chords; three tones of a triad.

    A chord written without its fifth (7alt) gives the altered tension that lies there.
    """
    tones: list[Named] = [("1", symbol.root)]
    if third := third_of(symbol):
        tones.append((third.degree, third.name))
    for degree in ("5", "b5", "#5", "b13", "#11"):
        if degree in symbol.degrees:
            tones.append((degree, symbol.tone(degree)))
            break
    if seventh := seventh_of(symbol):
        tones.append((seventh.degree, seventh.name))
    return tuple(tones)


def written_ninth(symbol: ChordSymbol) -> NoteName | None:
    """The 9th that the symbol itself names."""
    return next((symbol.tone(degree) for degree in NINTHS if degree in symbol.degrees), None)


def ladder_names(symbol: ChordSymbol, start: str, ninth: NoteName | None) -> tuple[Named, ...]:
    """The tones of a cell from its lowest: 1 3 5 7 8, 3 5 7 8, or with the 9th 1 3 5 7 9, 3 5 7 9."""
    tones = chord_tones(symbol)
    last: Named = ("1", symbol.root) if ninth is None else (_ninth_degree(symbol, ninth), ninth)
    kept = tones if start == "root" or len(tones) < 3 else tones[1:]
    return (*kept, last)


def with_tensions(names: tuple[Named, ...], tensions: Sequence[Named]) -> tuple[Named, ...]:
    """A cell whose last tone gives way to the tensions that it lacks: 1 3 5 7 and the sharp 11th."""
    lacking = [one for one in tensions if one[1].pc not in {name.pc for _, name in names}]
    if not lacking:
        return names
    octave = names[-1][1].pc == names[0][1].pc or names[-1][0] == "1"
    return (*(names[:-1] if octave else names), *lacking)


def _ninth_degree(symbol: ChordSymbol, ninth: NoteName) -> str:
    return degree_between(symbol.root, ninth).replace("2", "9")


def arpeggios(
    passage: Passage,
    compass: Compass,
    *,
    direction: str = "up",
    start: str = "root",
    value: Fraction,
    ninth_of: NinthOf | None = None,
    carried: CarriedNotes = MappingProxyType({}),
) -> list[LineNote]:
    """The notes of an arpeggio drill; N.C. is left empty. `start` "nearest" runs on through the changes. A chord gets the
    `carried` notes as tensions."""
    if start == "nearest":
        return _continuous(passage, compass, way(direction, 0), value, ninth_of, carried)
    notes: list[LineNote] = []
    near, turn = compass.middle, 0
    for chord in passage.chords:
        if chord.symbol is None:
            continue
        names = ladder_names(chord.symbol, start, ninth_of(chord) if ninth_of else None)
        tensions = named(chord, carried)
        rungs = place_ladder(with_tensions(names, tensions), compass, near)
        notes += fill(chord, rungs, value, way(direction, turn), {name.pc for _, name in tensions})
        turn += 1
    return notes


def _continuous(
    passage: Passage,
    compass: Compass,
    direction: int,
    value: Fraction,
    ninth_of: NinthOf | None,
    carried: CarriedNotes,
) -> list[LineNote]:
    notes: list[LineNote] = []
    heading = direction or UP
    for chord in passage.chords:
        if chord.symbol is None:
            continue
        tensions = named(chord, carried)
        rungs = chord_rungs(chord, compass, ninth_of, tensions)
        last = notes[-1].pitch if notes else None
        must = {name.pc for _, name in tensions}
        more, heading = run_on(chord, rungs, value, last, heading, compass.middle, must)
        notes += more
    return notes


def chord_rungs(
    chord: LineChord, compass: Compass, ninth_of: NinthOf | None, tensions: Sequence[Named] = ()
) -> list[Rung]:
    """Every chord tone in the easy range, and every tension asked for, low to high."""
    if chord.symbol is None:
        return []
    rungs = list(_rungs(chord.symbol, compass, ninth_of(chord) if ninth_of else None))
    there = {rung.pitch.name.pc for rung in rungs}
    more = [Rung(pitch, degree) for degree, name in tensions if name.pc not in there for pitch in compass.all_of(name)]
    return sorted([*rungs, *more], key=lambda rung: rung.pitch.midi)


@lru_cache(maxsize=2048)
def _rungs(symbol: ChordSymbol, compass: Compass, ninth: NoteName | None) -> tuple[Rung, ...]:
    """A chord comes again and again in a tune, and a drill in twelve keys asks for it each time."""
    names = list(chord_tones(symbol))
    if ninth:
        names.append((_ninth_degree(symbol, ninth), ninth))
    rungs = [Rung(pitch, degree) for degree, name in names for pitch in compass.all_of(name)]
    return tuple(sorted(rungs, key=lambda rung: rung.pitch.midi))
