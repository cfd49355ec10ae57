"""Notes that a player has taken from a recording, carried by scales and arpeggios at their places.

Where a cell would end before it reaches such a note it begins higher, so that the note is played: an arpeggio over half a
bar becomes 3 5 ♭7 ♯11 (common practice for tensions, no source).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tunes.harmony.pitch.spelling import NoteName, degree_interval

from .line import LineChord, Remark
from .passage import Passage


@dataclass(frozen=True, slots=True)
class Heard:
    """A degree that a recording plays over a chord, and that in words ("the recording plays the ♯11 here (chorus 4)")."""

    degree: str
    words: str


CarriedNotes = Mapping[int, Sequence[Heard]]
"""By event of the chart."""


def named(chord: LineChord, carried: CarriedNotes) -> list[tuple[str, NoteName]]:
    """The carried notes of a chord in the printed key: degree and name."""
    if chord.symbol is None:
        return []
    return [(one.degree, chord.symbol.root + degree_interval(one.degree)) for one in carried.get(chord.event, ())]


def remarks(part: Passage, carried: CarriedNotes) -> list[Remark]:
    """What is carried, said at its bar."""
    return [
        Remark(f"{chord.text}: {one.words}.", part.bar_number(chord.start))
        for chord in part.chords
        for one in carried.get(chord.event, ())
    ]


def with_names(notes: Sequence[NoteName], names: Sequence[NoteName]) -> tuple[NoteName, ...]:
    """A scale from its root with every carried note in it: one that it lacks is put in at its height."""
    root = notes[0]
    lacking = [name for name in names if name.pc not in {note.pc for note in notes}]
    return tuple(sorted([*notes, *lacking], key=lambda note: (note.pc - root.pc) % 12))
