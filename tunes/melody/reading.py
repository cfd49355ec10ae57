"""A melody read against its chords: degree, role and border of every note, and the door to everything else.

>>> from tunes.harmony.chords import parse_symbol
>>> from tunes.harmony.charts.bars import COMMON_TIME
>>> changes = [Change(0, parse_symbol("G7").symbol), Change(2, parse_symbol("Cmaj7").symbol)]
>>> notes = [Note(Fraction(n, 2), Fraction(1, 2), midi) for n, midi in enumerate((77, 75, 74, 71, 72))]
>>> [(n.degree, n.role) for n in read_notes(notes, changes, Grid.even(COMMON_TIME))]
[('b7', 'chord tone'), ('b13', 'passing'), ('5', 'chord tone'), ('3', 'chord tone'), ('1', 'chord tone')]
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from tunes.harmony.pitch.spelling import NoteName, degree_between

from .columns import Columns, columns
from .notes import CLOSE, Change, Grid, Note
from .roles import role_of
from .rules import RULES, Role
from .tones import Tones

ENGINE = "1"
"""Version of the reading: raise it when readings change."""
BORDER = Fraction(1, 2)
"""Crotchets on either side of a change within which a note may belong to the other chord."""


@dataclass(frozen=True, slots=True)
class NoteReading:
    """One note, read. Indices count in the sequences that were given to `read`.

    change        the chord of the moment, None before the first and where none sounds.
    degree        over that chord ("3", "b9", "#11"), None without a chord; semitones  above its root, 0 to 11.
    name          how it is spelled: as written, else by the degree.
    role, rule    the role and the id of the rule that gave it (`tunes.melody.rules.RULES`).
    target        the note that it leads to, None when it leads nowhere.
    border        "early" when it belongs to the chord to come, "late" when it still belongs to the one before, "ahead" when it
                  is written on the beat that brings a chord but was played before it; else "".
    other         degree over that other chord, "" when there is none.
    """

    note: int
    change: int | None
    degree: str | None
    semitones: int | None
    name: NoteName | None
    role: Role
    rule: str
    target: int | None = None
    border: str = ""
    other: str = ""


def read_notes(notes: Sequence[Note], changes: Sequence[Change], grid: Grid) -> tuple[NoteReading, ...]:
    """Every note against the chord of its moment. Notes and changes must be in order of time (ValueError)."""
    c = columns(notes, changes, grid)
    _check(c.onset, "note")
    _check(c.starts, "chord")
    return tuple(_reading(notes, c, index) for index in range(len(notes)))


def _check(times: Sequence[float], what: str) -> None:
    for index, (a, b) in enumerate(pairwise(times)):
        if b < a - CLOSE:
            raise ValueError(f"{what} {index + 2} begins before {what} {index + 1}: put them in order of time")


def _reading(notes: Sequence[Note], c: Columns, i: int) -> NoteReading:
    tones, midi, note = c.over[i], c.midi[i], notes[i]
    rule, target = role_of(c, i)
    if tones is None:
        return NoteReading(i, None, None, None, note.name, "rest", rule)
    semitones = (midi - tones.root) % 12
    degree, name = _spelled(tones, semitones, note.name)
    border, other = _border(c, i, float(note.lean))
    return NoteReading(i, c.chord[i], degree, semitones, name, RULES[rule].role, rule, target, border, other)


def _spelled(tones: Tones, semitones: int, written: NoteName | None) -> tuple[str, NoteName]:
    """Degree and name: as written where the writer spelled it so that it has a usual degree, else by the chord."""
    if written is None or written.pc != (tones.root + semitones) % 12 or written == tones.names[semitones]:
        return tones.degrees[semitones], written if written and written.pc == (
            tones.root + semitones
        ) % 12 else tones.names[semitones]
    return _USUAL.get(degree_between(tones.names[0], written), tones.degrees[semitones]), written


_USUAL = {
    "b2": "b9",
    "#2": "#9",
    "b3": "b3",
    "#4": "#11",
    "b5": "b5",
    "#5": "#5",
    "b6": "b13",
    "b7": "b7",
    "bb7": "bb7",
}


def _border(c: Columns, i: int, lean: float) -> tuple[str, str]:
    """Whether a note outside its chord belongs to the neighbouring chord, close to the change."""
    at, midi = c.chord[i], c.midi[i]
    if lean < 0 and at > 0 and abs(c.onset[i] - c.starts[at]) <= CLOSE and (before := c.tones[at - 1]) is not None:
        return "ahead", before.degree(midi)
    if c.inside[i]:
        return "", ""
    after = c.tones[at + 1] if at + 1 < len(c.tones) else None
    if (
        after is not None
        and c.starts[at + 1] - c.onset[i] <= BORDER + CLOSE
        and (midi - after.root) % 12 in after.inside
    ):
        return "early", after.degree(midi)
    before = c.tones[at - 1] if at > 0 else None
    if before is not None and c.onset[i] - c.starts[at] < BORDER + CLOSE and (midi - before.root) % 12 in before.inside:
        return "late", before.degree(midi)
    return "", ""
