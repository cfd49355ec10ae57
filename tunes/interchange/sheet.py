"""A lead sheet as the file says it, before it becomes a chart. All times are quarter notes from the bar line."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from tunes.harmony.pitch.spelling import Pitch
from tunes.interchange.errors import Loss


@dataclass(frozen=True)
class SheetChord:
    """`text` is a chord symbol in concert pitch, or None for no chord."""

    onset: Fraction
    text: str | None


@dataclass(frozen=True)
class SheetNote:
    """One note of the melody in concert pitch; `tied` when it goes on from the note before."""

    pitch: Pitch
    onset: Fraction
    duration: Fraction
    tied: bool = False


@dataclass(frozen=True)
class SheetBar:
    """One measure. `length` is what was written in it, `nominal` what its metre asks for (quarter notes).

    `backward` is how often a repeat is played in all (0 for none). `endings` are the numbers of the ending
    that starts here, `ending_stops` whether one ends here.
    """

    number: str
    beats: int
    unit: int
    length: Fraction
    chords: tuple[SheetChord, ...] = ()
    notes: tuple[SheetNote, ...] = ()
    implicit: bool = False
    mark: str = ""
    forward: bool = False
    backward: int = 0
    endings: tuple[int, ...] = ()
    ending_stops: bool = False
    double: bool = False
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    dal_segno: bool = False
    da_capo: bool = False
    fine: bool = False

    @property
    def nominal(self) -> Fraction:
        return Fraction(self.beats * 4, self.unit)


@dataclass(frozen=True)
class LeadSheet:
    """A whole lead sheet. `fifths` and `mode` are the first key signature, `mode` "" when the file is silent."""

    title: str = ""
    composer: str = ""
    fifths: int | None = None
    mode: str = ""
    bars: tuple[SheetBar, ...] = ()
    losses: tuple[Loss, ...] = field(default=())
