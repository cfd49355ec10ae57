"""A solo read against its changes: what every note is, what comes back, what its player is in the habit of. Pure.

`tunes.melody` reads; here its findings are put into the bars and words of the page. Everything about a bar that is asked
and not yet answered is left out before anything is handed on (`without`), so that no page can tell it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from tunes.harmony.pitch.spelling import Interval
from tunes.melody import (
    BarFit,
    Change,
    Grid,
    Habit,
    NoteReading,
    Recurrence,
    changes_of,
    fit_bars,
    read,
    reason,
)
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
    """One note as heard and what it is; `words` say why, `source` where the rule is from."""

    note: Sounding
    reading: NoteReading
    words: str
    source: str

    @property
    def shown(self) -> str:
        return signed(self.reading.degree or "")


@dataclass(frozen=True)
class BarOver:
    """How the notes of a bar (from 0) over one chord fit; `change` is that chord as the reader reads it."""

    bar: int
    fit: BarFit
    change: Change


@dataclass(frozen=True)
class SoloReading:
    """The notes in order, lines and habits by indices into them, how every bar fits its chords; `changes` are those, in concert
    pitch, that the notes were read against."""

    notes: tuple[ReadNote, ...]
    lines: tuple[Recurrence, ...]
    habits: tuple[Habit, ...]
    fits: tuple[BarOver, ...] = ()
    hidden: frozenset[int] = field(default_factory=frozenset)
    changes: tuple[Change, ...] = ()

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
    notes, changes, grid, start = over_changes(heard, concert.study, covers)
    found = read(notes, changes, grid)
    spoken = _written(changes, shift)
    why = [reason(found.notes, index, notes, spoken, grid) for index in range(len(notes))]
    read_notes = tuple(
        ReadNote(note, reading, said.sentence, said.source)
        for note, reading, said in zip(heard, found.notes, why, strict=True)
    )
    first = grid.bar_at(start).number
    fits = tuple(BarOver(one.bar - first, one, spoken[one.change]) for one in fit_bars(notes, changes, grid))
    return SoloReading(read_notes, found.lines, found.habits, fits, changes=changes)


def over_changes(
    heard: Sequence[Sounding], study: StudyChart, covers: Covers
) -> tuple[list[Heard], tuple[Change, ...], Grid, Fraction]:
    """The notes of a solo in the time of the choruses it touches, with their chords and bars, as `tunes.melody` reads them, and
    where in them the solo begins."""
    changes, grid, start = _changes(study, covers)
    notes = [Heard(one.onset + start, one.duration, one.pitch.midi, one.pitch.name, ghost=one.ghost) for one in heard]
    return notes, changes, grid, start


def _changes(study: StudyChart, covers: Covers) -> tuple[tuple[Change, ...], Grid, Fraction]:
    """The chords of as many choruses as the solo touches, and where in them its first bar begins."""
    changes, grid = changes_of(study.chart, study.analysis, covers.last_chorus - covers.first_chorus + 1)
    first = min(covers.first_bar - 1, len(grid.bars) - 1)
    return changes, grid, grid.bars[first].start


def _written(changes: Sequence[Change], shift: Interval) -> tuple[Change, ...]:
    """The changes as the reader reads them, for the words."""
    return tuple(replace(one, symbol=one.symbol.transposed(shift) if one.symbol else None) for one in changes)


def without(reading: SoloReading, hidden: frozenset[int]) -> SoloReading:
    """Without anything about these bars (from 0): no degree, role, line or count that a note of theirs is in."""
    if not hidden:
        return reading
    gone = {index for index, one in enumerate(reading.notes) if one.note.bar in hidden}
    lines = tuple(
        line
        for line in reading.lines
        if not any(set(range(place.start, place.start + line.length + 1)) & gone for place in line.places)
    )
    habits = tuple(habit for habit in reading.habits if not set(habit.places) & gone)
    fits = tuple(one for one in reading.fits if one.bar not in hidden)
    return replace(reading, lines=lines, habits=habits, fits=fits, hidden=hidden)
