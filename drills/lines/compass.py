"""Where a player's notes lie: the range of the instrument, the comfortable part of it, what reads well.

All pitches are as printed (written pitch, or concert pitch where that was asked for). Ranges come from
`studio.instruments`; outside them a drill warns and never fails, because altissimo and pedal notes exist.
Readable registers (at most two ledger lines) are common practice, no source. The register of guide tones, about
E3 to G4 sounding, is that of the handbook's table of guide tones (common practice).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

from tunes.harmony.pitch.spelling import UNISON, Interval, NoteName, Pitch

from .line import LineNote, Remark

READABLE = {"treble": (Pitch.parse("A3"), Pitch.parse("C6")), "bass": (Pitch.parse("C2"), Pitch.parse("E4"))}
GUIDE_REGISTER = (Pitch.parse("E3"), Pitch.parse("G4"))
GUIDE_SPAN = 14
ENOUGH = 19  # semitones that a register needs: an octave and a fifth
BASS_CLEF_BELOW = 57  # a concert register whose middle lies under A3 is read in bass clef


class Ranged(Protocol):
    """What is read of `studio.instruments.Instrument`; the pitches are written ones."""

    @property
    def interval(self) -> Interval: ...
    @property
    def clef(self) -> str: ...
    @property
    def low(self) -> Pitch: ...
    @property
    def high(self) -> Pitch: ...
    @property
    def comfortable_low(self) -> Pitch: ...
    @property
    def comfortable_high(self) -> Pitch: ...
    @property
    def is_concert(self) -> bool: ...
    @property
    def blown(self) -> bool: ...


@dataclass(frozen=True, slots=True)
class Compass:
    """low–high: all the instrument has. easy_low–easy_high: where a drill is written. MIDI numbers as printed."""

    low: int
    high: int
    easy_low: int
    easy_high: int
    clef: str = "treble"
    shift: Interval = UNISON
    blown: bool = False

    @property
    def middle(self) -> int:
        return (self.easy_low + self.easy_high) // 2

    def fits(self, pitch: Pitch) -> bool:
        """Inside the part of the range a drill is written in."""
        return self.easy_low <= pitch.midi <= self.easy_high

    def within(self, low: int, high: int, span: int) -> tuple[int, int]:
        """The window low–high moved and narrowed to lie in the easy range; at least `span` wide if that can be."""
        bottom = max(low, self.easy_low)
        top = min(high, self.easy_high)
        if top - bottom < span:
            bottom = max(self.easy_low, min(bottom, self.easy_high - span))
            top = min(self.easy_high, bottom + span)
        return bottom, top

    def guide_window(self, span: int = GUIDE_SPAN) -> tuple[int, int]:
        """Where guide tones lie, as printed."""
        low, high = (pitch.midi + self.shift.semitones for pitch in GUIDE_REGISTER)
        return self.within(low, high, span)

    def place(self, name: NoteName, near: int) -> Pitch:
        """The pitch of that name nearest to a MIDI number, brought into the easy range where one lies in it."""
        pitch = Pitch.nearest(name, near)
        while pitch.midi < self.easy_low:
            pitch = Pitch(name, pitch.octave + 1)
        while pitch.midi > self.easy_high and pitch.midi - 12 >= self.easy_low:
            pitch = Pitch(name, pitch.octave - 1)
        return pitch

    def all_of(self, name: NoteName) -> tuple[Pitch, ...]:
        """Every pitch of that name in the easy range, low to high."""
        return _all_of(self, name)


@lru_cache(maxsize=4096)
def _all_of(compass: Compass, name: NoteName) -> tuple[Pitch, ...]:
    first = compass.place(name, compass.easy_low)
    found = [Pitch(name, first.octave + octave) for octave in range(-1, 9)]
    return tuple(pitch for pitch in found if compass.fits(pitch))


def compass_of(instrument: Ranged, *, written: bool = True) -> Compass:
    """The compass of an instrument, in written pitch or in concert pitch.

    Instruments that only sound an octave away (guitar, bass) are printed at their written octave in both.
    """
    concert = not written and not instrument.is_concert
    down = -instrument.interval if concert else UNISON
    low, high, easy_low, easy_high = (
        (pitch + down).midi
        for pitch in (
            instrument.low,
            instrument.high,
            instrument.comfortable_low,
            instrument.comfortable_high,
        )
    )
    clef = instrument.clef
    if concert:
        clef = "bass" if (easy_low + easy_high) / 2 < BASS_CLEF_BELOW else "treble"
    easy_low, easy_high = _readable(easy_low, easy_high, clef)
    shift = UNISON if concert else instrument.interval
    return Compass(low, high, easy_low, easy_high, clef, shift, instrument.blown)


def _readable(low: int, high: int, clef: str) -> tuple[int, int]:
    """The comfortable range cut to what reads without many ledger lines, if enough of it is left."""
    bottom, top = READABLE.get(clef, READABLE["treble"])
    cut_low, cut_high = max(low, bottom.midi), min(high, top.midi)
    return (cut_low, cut_high) if cut_high - cut_low >= ENOUGH else (low, high)


def range_remarks(
    notes: Iterable[LineNote], compass: Compass, bar_number: Callable[[LineNote], int]
) -> tuple[Remark, ...]:
    """A warning for the notes that the instrument does not have, naming bars."""
    outside = [note for note in notes if note.pitch and not compass.low <= note.pitch.midi <= compass.high]
    if not outside:
        return ()
    names = sorted({note.pitch.display for note in outside if note.pitch})
    first = bar_number(outside[0])
    count = len(outside)
    what = "1 note lies" if count == 1 else f"{count} notes lie"
    return (Remark(f"{what} outside the usual range ({', '.join(names)}): play them an octave away.", first),)
