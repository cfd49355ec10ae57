"""Names that a player reads at sight, where the name that theory gives has two or three signs.

Over C diminished the seventh is read as A, not as B double flat; no note keeps three signs (common practice, no
source). A double sharp that is the leading note of a minor key stays: that key has it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tunes.harmony.pitch.spelling import Interval, Key, NoteName, Pitch

from .line import LineNote
from .passage import Passage

LEADING_NOTE = Interval.parse("M7")
LETTERS = "CDEFGAB"


def simpler(pitch: Pitch) -> Pitch:
    """The same sound on a neighbouring letter, with as few signs as can be.

    >>> simpler(Pitch.parse("Bbb4")).text, simpler(Pitch.parse("Cbb4")).text, simpler(Pitch.parse("E##4")).text
    ('A4', 'Bb3', 'F#4')
    """
    names = [NoteName(letter, (pitch.name.pc - NoteName(letter).pc + 6) % 12 - 6) for letter in LETTERS]
    sharp = pitch.name.alter > 0
    name = min(names, key=lambda one: (abs(one.alter), (one.alter > 0) != sharp))
    return Pitch.nearest(name, pitch.midi)


def readable_notes(notes: Sequence[LineNote], part: Passage) -> list[LineNote]:
    """The notes of a line, those that nobody reads at sight under another name."""
    diminished = {chord.event for chord in part.chords if chord.symbol and chord.symbol.family == "diminished"}

    def plain(note: LineNote, pitch: Pitch) -> Pitch:
        hard = _hard(pitch.name, part.key_at(note.event), note.event in diminished)
        return simpler(pitch) if hard else pitch

    return [
        replace(note, pitch=plain(note, note.pitch), stack=tuple(plain(note, pitch) for pitch in note.stack))
        if note.pitch and any(abs(pitch.name.alter) > 1 for pitch in (note.pitch, *note.stack))
        else note
        for note in notes
    ]


def _hard(name: NoteName, key: Key, diminished: bool) -> bool:
    if abs(name.alter) < 2:
        return False
    leading = key.mode == "minor" and name == key.tonic + LEADING_NOTE
    return abs(name.alter) > 2 or (diminished and not leading)
