"""How a note that was heard is spelled on the player's page: by its chord, then the signature, else with no
sign or the one nearer to the key on the line of fifths."""

from __future__ import annotations

from bisect import bisect_right

from drills.lines.line import Line
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import NoteName, Pitch

_LETTERS = "CDEFGAB"


def spelled(line: Line, index: int, midi: int) -> Pitch:
    """The printed pitch of a sounding MIDI number heard where note `index` of the line stands."""
    note = line.notes[index]
    printed = midi + line.shift.semitones
    chord = (
        line.chords[max(0, bisect_right(line.chords, note.start, key=lambda one: one.start) - 1)].symbol
        if line.chords
        else None
    )
    wanted = note.pitch.name if note.pitch else None
    return Pitch.nearest(_name(printed % 12, chord, line, wanted), printed)


def _name(pc: int, chord: ChordSymbol | None, line: Line, wanted: NoteName | None) -> NoteName:
    for name in (*(chord.tones if chord else ()), *_signature(line)):
        if name.pc == pc:
            return name
    side = wanted.alter if wanted else 0
    plain = [name for letter in _LETTERS for alter in (0, 1, -1) if (name := NoteName(letter, alter)).pc == pc]
    return min(plain, key=lambda name: (abs(name.alter), abs(name.fifths - line.key.fifths - 2), name.alter != side))


def _signature(line: Line) -> list[NoteName]:
    """The seven notes of the printed signature."""
    return [NoteName.from_fifths(line.key.fifths + step) for step in range(-1, 6)]
