"""A melody laid over a chart, in concert pitch, by bar and beat; and its plain form for keeping as JSON."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from tunes.harmony.pitch.spelling import Pitch, SpellingError

MOST_NOTES = 8000


@dataclass(frozen=True)
class MelodyNote:
    """`bar` is an index into `chart.bars`; `start` and `duration` are beats of that bar's metre."""

    bar: int
    start: Fraction
    duration: Fraction
    pitch: Pitch
    tied: bool = False


@dataclass(frozen=True)
class Melody:
    """Notes in order of bar and start."""

    notes: tuple[MelodyNote, ...] = ()

    def during(self, bar: int, start: Fraction, duration: Fraction) -> tuple[MelodyNote, ...]:
        """The notes of a bar that sound within a stretch of beats."""
        end = start + duration
        return tuple(n for n in self.notes if n.bar == bar and n.start < end and n.start + n.duration > start)

    def to_json(self) -> list[list[Any]]:
        return [[n.bar, str(n.start), str(n.duration), n.pitch.text, n.tied] for n in self.notes]

    @classmethod
    def from_json(cls, rows: Iterable[Any]) -> Melody:
        """Reads what `to_json` wrote; rows that cannot be read are left out."""
        notes = []
        for row in rows:
            try:
                bar, start, duration, pitch, tied = row
                notes.append(MelodyNote(int(bar), Fraction(start), Fraction(duration), Pitch.parse(pitch), bool(tied)))
            except (ValueError, TypeError, SpellingError, ZeroDivisionError):
                continue
        return cls(tuple(notes))
