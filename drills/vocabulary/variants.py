"""Variants of a line, made on request and said: another beat, another length, turned round, the target from the other side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import Key, Pitch, degree_interval
from tunes.harmony.scales.scales import scale_in
from tunes.melody.tones import tones_of

from .carry import chords_in
from .cut import CutLine, CutNote, NothingToCut

LENGTHS = {Fraction(1, 2): "in half the time", Fraction(2): "in twice the time"}


def from_another_beat(line: CutLine, beats: int) -> CutLine:
    """The line so many beats later (negative: earlier) against its chords. Raises `NothingToCut` if a note would leave its chord."""
    by = beats * line.beat
    notes = tuple(replace(note, at=note.at + by) for note in line.notes)
    for note in notes:
        chord = line.chords[note.chord]
        if note.at < chord.start or note.at >= chord.end:
            raise NothingToCut("a note would stand over another chord")
    way = "later" if beats > 0 else "earlier"
    count = "a beat" if abs(beats) == 1 else f"{abs(beats)} beats"
    return replace(line, notes=notes, changed=_said(line, f"{count} {way}"))


def in_other_time(line: CutLine, factor: Fraction) -> CutLine:
    """The line and its chords in half or twice the time, for bars where chords last half or twice as long."""
    if factor not in LENGTHS:
        raise NothingToCut("a line can be played in half or in twice the time")
    notes = tuple(replace(n, at=n.at * factor, duration=n.duration * factor) for n in line.notes)
    chords = tuple(replace(c, start=c.start * factor, end=c.end * factor) for c in line.chords)
    return replace(line, notes=notes, chords=chords, changed=_said(line, LENGTHS[factor]))


def inverted(line: CutLine) -> CutLine:
    """Turned round its last note, step for step in the scale of each chord: what rose falls. Notes that lead by half
    steps lead by half steps from the other side."""
    symbols = chords_in(line, Key.parse("C"))
    pitches = _realised(line, symbols)
    centre = pitches[-1]
    turned: list[Pitch | None] = [None] * len(pitches)
    for n, (note, pitch) in enumerate(zip(line.notes, pitches, strict=True)):
        if note.leads is None:
            turned[n] = _mirrored(pitch, centre, symbols[note.chord])
    for n in range(len(pitches) - 1, -1, -1):
        note = line.notes[n]
        if turned[n] is None:
            target = turned[note.leads if note.leads is not None else -1]
            assert target is not None
            turned[n] = _across(pitches[n], pitches[note.leads or 0], target)
    return _from_pitches(line, symbols, [p for p in turned if p is not None], "turned round")


def approached_from_the_other_side(line: CutLine) -> CutLine:
    """The last target of the line reached from its other side. Raises `NothingToCut` where nothing leads to a target."""
    target = max((note.leads for note in line.notes if note.leads is not None), default=None)
    if target is None:
        raise NothingToCut("no note of this line approaches another")
    symbols = chords_in(line, Key.parse("C"))
    pitches = _realised(line, symbols)
    changed = [
        _across(pitch, pitches[target], pitches[target]) if note.leads == target else pitch
        for note, pitch in zip(line.notes, pitches, strict=True)
    ]
    return _from_pitches(line, symbols, changed, "its target approached from the other side")


def _said(line: CutLine, text: str) -> str:
    return f"{line.changed}, {text}" if line.changed else text


def _realised(line: CutLine, symbols: Sequence[ChordSymbol]) -> list[Pitch]:
    names = [symbols[note.chord].root + degree_interval(note.degree) for note in line.notes]
    first = Pitch.nearest(names[0], line.first_midi).midi
    return [Pitch.nearest(name, first + note.height) for name, note in zip(names, line.notes, strict=True)]


def _mirrored(pitch: Pitch, centre: Pitch, symbol: ChordSymbol) -> Pitch:
    """As many letters on the other side, with the sign that the chord's scale has for that letter."""
    steps = 2 * centre.steps - pitch.steps
    scale = {note.letter: note for note in scale_in(symbol, None, None).notes}
    octave, letter = divmod(steps, 7)
    name = scale.get("CDEFGAB"[letter])
    return Pitch(name, octave) if name else Pitch.nearest(symbol.root, 2 * centre.midi - pitch.midi)


def _across(pitch: Pitch, target: Pitch, new: Pitch) -> Pitch:
    """As far from the new target as from the old one, on the other side."""
    distance = target.midi - pitch.midi
    steps = target.steps - pitch.steps
    octave, letter = divmod(new.steps + steps, 7)
    natural = Pitch.parse(f"{'CDEFGAB'[letter]}{octave}")
    alter = new.midi + distance - natural.midi
    return Pitch.nearest(replace(natural.name, alter=alter), new.midi + distance)


def _from_pitches(line: CutLine, symbols: Sequence[ChordSymbol], pitches: Sequence[Pitch], said: str) -> CutLine:
    notes: list[CutNote] = []
    for note, pitch in zip(line.notes, pitches, strict=True):
        tones = tones_of(symbols[note.chord])
        notes.append(replace(note, degree=tones.degree(pitch.midi), height=pitch.midi - pitches[0].midi))
    return replace(line, notes=tuple(notes), first_midi=pitches[0].midi, changed=_said(line, said))
