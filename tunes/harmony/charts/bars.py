"""A chart as data: chords in slots, slots in bars, bars in sections; and one chorus of it, unfolded.

All times are `Fraction` beats, a beat being one unit of the metre (a quaver in 6/8). The slots of a bar lie end
to end and fill it exactly. A slot that could not be read keeps its text and has no symbol, so nothing typed is
lost and every bar keeps its place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from tunes.harmony.chords.symbol import ChordSymbol

BLANK = "?"
HELD = "/"


@dataclass(frozen=True, slots=True)
class Metre:
    """Beats in a bar and the note value of one (4 is a crotchet)."""

    beats: int
    unit: int

    @property
    def text(self) -> str:
        return f"{self.beats}/{self.unit}"

    @property
    def quarters(self) -> Fraction:
        """Length of a bar in crotchets."""
        return Fraction(4 * self.beats, self.unit)

    def __str__(self) -> str:
        return self.text


COMMON_TIME = Metre(4, 4)


@dataclass(frozen=True, slots=True)
class Slot:
    """One typed place in a bar.

    symbol    the chord; None for N.C., for a blank and for text that could not be read.
    start     beats from the start of the bar.
    duration  beats.
    text      as typed: a chord, "N.C.", "?" (blank, to be filled), "/" (the chord before, held over the barline).
    """

    symbol: ChordSymbol | None
    start: Fraction
    duration: Fraction
    text: str

    @property
    def is_blank(self) -> bool:
        return self.text == BLANK

    @property
    def is_held(self) -> bool:
        return self.text == HELD

    @property
    def end(self) -> Fraction:
        return self.start + self.duration


@dataclass(frozen=True, slots=True)
class Bar:
    """One written bar.

    number        as printed, from 1; a pickup bar is 0.
    section       index in `Chart.sections`.
    length        beats, when the bar is shorter than its metre (a pickup); otherwise None.
    start_repeat  a repeated passage begins here.
    end_repeat    times that the passage ending here is played; 0 when nothing ends here.
    endings       passes for which the passage beginning here is played: (1,), (1, 2); () for all.
    jump          "", "D.C." or "D.S."; jump_to says until where: "", "coda" or "fine".
    copied        typed as a repeated bar; copy_span bars were copied together and this is the copy_index-th.
    comment       words typed in the bar; notes are whole lines typed before it.
    new_line      the bar begins a line of the text.
    """

    slots: tuple[Slot, ...]
    metre: Metre = COMMON_TIME
    number: int = 1
    section: int = 0
    length: Fraction | None = None
    start_repeat: bool = False
    end_repeat: int = 0
    endings: tuple[int, ...] = ()
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    fine: bool = False
    jump: str = ""
    jump_to: str = ""
    double_end: bool = False
    copied: bool = False
    copy_span: int = 0
    copy_index: int = 0
    comment: str = ""
    notes: tuple[str, ...] = ()
    new_line: bool = field(default=False, compare=False)

    @property
    def beats(self) -> Fraction:
        """How long the bar lasts."""
        return Fraction(self.metre.beats) if self.length is None else self.length

    @property
    def is_pickup(self) -> bool:
        return self.number == 0


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of written bars under one label ("" when no label was typed)."""

    label: str
    first_bar: int
    bars: int

    @property
    def bar_range(self) -> range:
        """Indices into `Chart.bars`."""
        return range(self.first_bar, self.first_bar + self.bars)


@dataclass(frozen=True, slots=True)
class ChorusBar:
    """One bar as it is played.

    index is its place in the chorus, bar its index in `Chart.bars`, pass_no the pass through its repeat (from 1).
    """

    index: int
    bar: int
    pass_no: int
    section_label: str


@dataclass(frozen=True, slots=True)
class Event:
    """One chord as it is played: what analysis, drills and quizzes index by.

    index       place in `Chart.events()`.
    bar, slot   where it is written: indices into `Chart.bars` and its slots.
    chorus_bar  index in `Chart.unfold()`.
    onset       beats from the start of the bar.
    duration    beats.
    """

    index: int
    symbol: ChordSymbol | None
    bar: int
    slot: int
    chorus_bar: int
    onset: Fraction
    duration: Fraction
    metre: Metre
    text: str = ""


def next_chord(events: Sequence[Event], index: int) -> int | None:
    """The next event with another chord, round the form; None where there is no other."""
    around = (at % len(events) for at in range(index + 1, index + len(events)))
    return next((at for at in around if events[at].symbol not in (None, events[index].symbol)), None)
