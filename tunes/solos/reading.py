"""A solo read against its changes: what every note is, what comes back, what its player is in the habit of. Pure.

`tunes.melody` reads; here its findings are put into the bars and words of the page. Everything about a bar that is asked
and not yet answered is left out before anything is handed on (`without`), so that no page can tell it.
"""
from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from tunes.harmony.pitch.spelling import Interval
from tunes.melody import RULES, Change, Habit, NoteReading, Recurrence, changes_of, read
from tunes.melody import Note as Heard
from tunes.solos.bars import Covers, SoloForm
from tunes.solos.notes import Bars, Sounding, sounding
from tunes.study import StudyChart

FEWEST_OCCASIONS = 5  # of a degree over a function, before it is more than a count (a habit)
SAID = {
    "chord tone": "chord tone", "passing": "passing", "neighbour": "neighbour", "approach": "approach",
    "double approach": "double approach", "enclosure": "enclosure", "delay": "delay", "anticipation": "anticipation",
    "tension": "tension", "other": "open", "rest": "no chord",
}  # fmt: skip


@dataclass(frozen=True)
class ReadNote:
    """One note as heard and what it is; `words` say it in a sentence, `source` where the rule is from."""

    note: Sounding
    reading: NoteReading
    words: str
    source: str

    @property
    def shown(self) -> str:
        return signed(self.reading.degree or "")


@dataclass(frozen=True)
class SoloReading:
    """The notes in order, lines and habits by indices into them; `changes` are those they were read against."""

    notes: tuple[ReadNote, ...]
    lines: tuple[Recurrence, ...]
    habits: tuple[Habit, ...]
    changes: tuple[Change, ...] = ()
    hidden: frozenset[int] = field(default_factory=frozenset)

    def of_bar(self, bar: int) -> list[ReadNote]:
        return [one for one in self.notes if one.note.bar == bar]


def signed(degree: str) -> str:
    """A degree with real signs.

    >>> signed("b9"), signed("#11")
    ('♭9', '♯11')
    """
    return re.sub(r"[b#](?=[b#]*\d)", lambda sign: "♭" if sign[0] == "b" else "♯", degree)


def read_solo(bars: Bars, concert: SoloForm, covers: Covers, shift: Interval) -> SoloReading:
    """Notes in concert pitch over the concert form; names in the words are carried by `shift`, as the reader reads."""
    heard = sounding(bars, concert.starts, concert.lengths)
    changes, grid, start = _changes(concert.study, covers)
    notes = [
        Heard(one.onset + start, one.duration, one.pitch.midi, one.pitch.name, ghost=one.ghost) for one in heard
    ]
    found = read(notes, changes, grid)
    read_notes = tuple(
        ReadNote(note, reading, _words(found.notes, reading, heard, changes, shift), RULES[reading.rule].source)
        for note, reading in zip(heard, found.notes, strict=True)
    )
    return SoloReading(read_notes, found.lines, found.habits, changes)


def _changes(study: StudyChart, covers: Covers) -> tuple[tuple[Change, ...], Any, Fraction]:
    """The chords of as many choruses as the solo touches, and where in them its first bar begins."""
    changes, grid = changes_of(study.chart, study.analysis, covers.last_chorus - covers.first_chorus + 1)
    first = min(covers.first_bar - 1, len(grid.bars) - 1)
    return changes, grid, grid.bars[first].start


def _words(
    all_notes: Sequence[NoteReading], reading: NoteReading, heard: Sequence[Sounding], changes: Sequence[Change],
    shift: Interval,
) -> str:
    """"♯11 of E7, a half step below A, the ♭3 of Am7": degree, chord, and where it leads."""
    if reading.change is None:
        return "no chord sounds here"
    symbol = changes[reading.change].symbol
    chord = symbol.transposed(shift).display if symbol else "no chord"
    said = f"the {signed(reading.degree or '')} of {chord}"
    if reading.border and reading.other:
        side = "early: already" if reading.border == "early" else "late: still"
        said += f"; {side} the {signed(reading.other)} of the chord {'to come' if reading.border == 'early' else 'before'}"
    if reading.target is None or reading.target == reading.note:
        return said
    target = all_notes[reading.target]
    step = heard[reading.target].pitch.midi - heard[reading.note].pitch.midi
    aimed = (heard[reading.target].pitch.name + shift).display
    over = changes[target.change].symbol if target.change is not None else None
    degree = f", the {signed(target.degree or '')} of {over.transposed(shift).display}" if over and target.degree else ""
    return f"{said}; {_step(step)}{aimed}{degree}"


def _step(by: int) -> str:
    size = {1: "half a step", 2: "a step"}.get(abs(by))
    return f"{size} {'below' if by > 0 else 'above'} " if size else "leads to "


def without(reading: SoloReading, hidden: frozenset[int]) -> SoloReading:
    """Without anything about these bars (from 0): no degree, role, line or count that a note of theirs is in."""
    if not hidden:
        return reading
    gone = {index for index, one in enumerate(reading.notes) if one.note.bar in hidden}
    lines = tuple(
        line for line in reading.lines
        if not any(set(range(place.start, place.start + line.length + 1)) & gone for place in line.places)
    )
    habits = tuple(habit for habit in reading.habits if not set(habit.places) & gone)
    return SoloReading(reading.notes, lines, habits, reading.changes, hidden)
