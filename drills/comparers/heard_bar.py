"""What a player typed for one bar heard: its chords, or its bass notes alone.  Pure; starts are beats of the bar."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from drills.comparers.note_names import read_notes
from tunes.by_ear.reading import Sounding, read_chords
from tunes.harmony.charts.bars import COMMON_TIME, Metre

BASS = "bass"
LONGEST = 120


@dataclass(frozen=True, slots=True)
class HeardBar:
    """The soundings in order, as typed (written pitch); ``problem`` says what to type instead."""

    soundings: tuple[Sounding, ...]
    problem: str = ""

    @property
    def echo(self) -> str:
        """ "Dm7  G7", "bass D G", "no chord"."""
        if not self.soundings:
            return ""
        if all(s.chord is None and s.bass is None for s in self.soundings):
            return "N.C.: no chord"
        names = [s.chord.display if s.chord else s.bass.display if s.bass else "N.C." for s in self.soundings]
        return ("bass " if any(s.bass for s in self.soundings) else "") + "  ".join(names)

    def at(self, start: Fraction) -> Sounding | None:
        """What sounds at a beat; None where nothing readable was typed."""
        return next((s for s in self.soundings if s.start <= start < s.start + s.duration), None)


def metre_of(text: str) -> Metre:
    """The metre a question names; common time when it names none.

    >>> metre_of("3/4").beats, metre_of("").beats
    (3, 4)
    """
    beats, _, unit = text.partition("/")
    small = len(text) < 8 and beats.isdecimal() and unit.isdecimal() and int(beats) > 0 and int(unit) > 0
    return Metre(int(beats), int(unit)) if small else COMMON_TIME


def read_heard(text: str, metre: Metre, part: str = "") -> HeardBar:
    """One bar as typed, spread evenly or with a slash a beat.

    >>> read_heard("Dm7 G7", metre_of("4/4")).echo, read_heard("d g", metre_of("4/4"), "bass").echo
    ('Dm7  G7', 'bass D  G')
    >>> read_heard("%", metre_of("4/4")).problem
    'Type the chord again: every bar is heard for itself.'
    """
    if len(text) > LONGEST:
        return HeardBar((), "This is too long for one bar. Type chords such as Dm7 G7.")
    if part == BASS:
        return _bass(text, metre)
    reading = read_chords(text, metre)
    return HeardBar(reading.soundings, reading.problem)


def _bass(text: str, metre: Metre) -> HeardBar:
    reading = read_notes(text)
    if reading.problem:
        return HeardBar((), reading.problem.text)
    share = Fraction(metre.beats, max(1, len(reading.notes)))
    notes = reading.notes or (None,)
    return HeardBar(tuple(Sounding(place * share, share, bass=note) for place, note in enumerate(notes)))
