"""The one type that every drill yields: a line of spelled notes over the bars and changes it was made for.

Times are `Fraction` **crotchets** (quarter notes) from the start of the line, so that a change of metre needs no
conversion; a chart's beats are converted once, in `drills.lines.passage`. Pitches are *as printed*: written pitch
when `Line.written_for` names an instrument, concert pitch otherwise. `Line.shift` says how far the printed notes
lie above the sounding ones.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction

from tunes.harmony.charts.bar_count import bar_name
from tunes.harmony.charts.bars import Metre
from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import UNISON, Interval, Key, Pitch

CROTCHET = Fraction(1)
QUAVER = Fraction(1, 2)
GRAND = "grand"
"""A clef of two staves: voice 1 stands in the treble, voice 2 in the bass."""


@dataclass(frozen=True, slots=True)
class LineNote:
    """One note, or a rest when `pitch` is None.

    start, duration  crotchets from the start of the line.
    event            the chord it is played against: index in `chart.events()`.
    degree           what it is against that chord ("3", "b7"); "" for a rest and for an ornament.
    voice            1 or 2 (two guide-tone voices).
    breath           breathe after it.
    ornament         it leads to the next note and belongs to no chord.
    stack            further pitches above it in the same stroke, low to high (a voicing).
    """

    pitch: Pitch | None
    start: Fraction
    duration: Fraction
    event: int
    degree: str = ""
    voice: int = 1
    breath: bool = False
    ornament: bool = False
    stack: tuple[Pitch, ...] = ()

    @property
    def end(self) -> Fraction:
        return self.start + self.duration


@dataclass(frozen=True, slots=True)
class LineChord:
    """A chord of the line: `symbol` None is N.C.; start and duration in crotchets from the start of the line."""

    event: int
    symbol: ChordSymbol | None
    start: Fraction
    duration: Fraction
    numeral: str = ""
    spoken: str = ""
    blank: bool = False

    @property
    def end(self) -> Fraction:
        return self.start + self.duration

    @property
    def text(self) -> str:
        """The symbol in ASCII, "N.C.", or "?" for a blank that nobody has filled yet."""
        return self.symbol.text if self.symbol else "?" if self.blank else "N.C."


@dataclass(frozen=True, slots=True)
class LineBar:
    """One bar of the line, in playing order.

    number   as played in the chorus it is taken from; a pickup is 0 (`tunes.harmony.charts.bar_count`).
    written  as printed in the chart, where that is another number.
    label    rehearsal letter, when a section begins here.
    area     the key that begins here, when the key area changes.
    joined   False when the bar before it in the line is not the bar before it in the chorus.
    phrase   True when a four-bar phrase or a section begins here.
    """

    number: int
    metre: Metre
    start: Fraction
    length: Fraction
    label: str = ""
    area: Key | None = None
    joined: bool = True
    phrase: bool = False
    written: int | None = None

    @property
    def end(self) -> Fraction:
        return self.start + self.length


@dataclass(frozen=True, slots=True)
class Remark:
    """Something the player should know, and the bar it is about, as played (None: the whole line)."""

    text: str
    bar: int | None = None

    def at(self, line: Line) -> str:
        """ "Bar 17 (written 9): ", to stand before the text; "" where it is about the whole line."""
        return "" if self.bar is None else f"{line.bar_named(self.bar).capitalize()}: "


@dataclass(frozen=True, slots=True)
class Line:
    """A drill as music.

    kind         "guide-tones", "arpeggios", "scales", "piano", "bass" or "comping".
    title        what it is, in words.
    key          the printed key, whose signature is used.
    notes        in order of start, then voice.
    written_for  key of `studio.instruments.INSTRUMENTS`, "" for concert pitch.
    clef         "treble", "bass" or GRAND.
    shift        printed = sounding + shift.
    movement     total semitones moved by guide tones (octave changes left out), None for other drills.
    """

    kind: str
    title: str
    key: Key
    bars: tuple[LineBar, ...]
    chords: tuple[LineChord, ...]
    notes: tuple[LineNote, ...]
    clef: str = "treble"
    written_for: str = ""
    shift: Interval = UNISON
    remarks: tuple[Remark, ...] = ()
    movement: int | None = None

    @property
    def duration(self) -> Fraction:
        return self.bars[-1].end if self.bars else Fraction(0)

    @property
    def voices(self) -> int:
        return max((note.voice for note in self.notes), default=1)

    @property
    def staves(self) -> int:
        return 2 if self.clef == GRAND else 1

    def bar_named(self, number: int) -> str:
        """The name of the bar that is played under a number: "bar 17 (written 9)"."""
        return bar_name(number, next((bar.written for bar in self.bars if bar.number == number), None))

    def chords_by_bar(self) -> list[list[tuple[int, LineChord]]]:
        """For every bar the chords that begin in it, each with its index in `chords`."""
        starts = [bar.start for bar in self.bars]
        found: list[list[tuple[int, LineChord]]] = [[] for _ in self.bars]
        for place, chord in enumerate(self.chords):
            found[bisect_right(starts, chord.start) - 1].append((place, chord))
        return found
