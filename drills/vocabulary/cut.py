"""A line cut from a solo: rhythm, contour, functions and degrees, without a key.

Times are crotchets from the **landing**: the beginning of the last chord that the line has notes over, or of its only
chord. What comes before has negative times. A line knows the chord after it (or before it), too, where it needs a
goal: a 5 to a minor chord and a 5 to a major one are not the same place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import groupby

from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import degree_interval
from tunes.harmony.progressions.idioms import DEGREE_NAMES
from tunes.harmony.progressions.pattern import CLASS_OF_QUALITY
from tunes.harmony.progressions.table import Idiom, make_idiom
from tunes.melody import Change, Grid, Note, degree_words, read_notes
from tunes.melody.reading import NoteReading

FINEST = 48
"""Parts of a crotchet that times are kept to: every rhythm that is written, sixteenth triplets included."""
MOST_CHORDS = 8
MOST_NOTES = 64
_FAMILY_CLASS = {
    "major": "maj", "minor": "min", "dominant": "dom", "half-diminished": "half", "diminished": "dim", "augmented": "aug",
    "suspended": "sus", "power": "open",
}  # fmt: skip
_CLASS_WORDS = {"maj": "", "min": "minor", "dom": "dominant", "half": "half diminished", "dim": "diminished", "aug": "augmented",
                "sus": "sus", "open": ""}  # fmt: skip
_USUAL_CLASS = {("1", "maj"), ("2", "min"), ("3", "min"), ("4", "maj"), ("5", "dom"), ("6", "min"), ("7", "half")}


class NothingToCut(ValueError):
    """The chosen notes make no line; the message says why and what to choose."""


@dataclass(frozen=True, slots=True)
class CutNote:
    """One note of a line.

    chord     index in `CutLine.chords` of the chord it sounds over.
    at, duration   crotchets from the landing.
    degree    over its chord ("3", "b9"); semitones  above that chord's root, 0 to 11.
    height    semitones above the first note: the contour.
    leads     index of the note that it leads to (an approach, an enclosure), None for a note that stands for itself.
    """

    chord: int
    at: Fraction
    duration: Fraction
    degree: str
    height: int
    leads: int | None = None

    @property
    def semitones(self) -> int:
        return degree_interval(self.degree).semitones % 12

    @property
    def end(self) -> Fraction:
        return self.at + self.duration


@dataclass(frozen=True, slots=True)
class CutChord:
    """A chord of a line by its function: degree of its root above the tonic, class of quality; `played` False for one that
    the line only leads to or comes from. start, end  crotchets from the landing. written  degrees that the chart wrote there."""

    degree: str
    quality_class: str
    start: Fraction
    end: Fraction
    played: bool = True
    written: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """ "5", "2 half diminished", "1 minor"."""
        usual = (self.degree, self.quality_class) in _USUAL_CLASS
        number = degree_words(self.degree).removesuffix("th").removesuffix("nd").removesuffix("rd")
        number = "1" if self.degree == "1" else number
        return number if usual else f"{number} {_CLASS_WORDS[self.quality_class]}".strip()


@dataclass(frozen=True)
class CutLine:
    """A line without a key.

    landing     crotchets from the barline to the landing.  bar, beat   crotchets in a bar and in a beat.
    first_midi  sounding pitch of the first note as it was played.
    source      who played it where, in words; name  what the class calls it; changed  what was done to it since, in words.
    """

    notes: tuple[CutNote, ...]
    chords: tuple[CutChord, ...]
    landing: Fraction
    bar: Fraction
    beat: Fraction
    first_midi: int
    source: str = ""
    name: str = ""
    changed: str = ""

    @property
    def pattern(self) -> str:
        """The functions as the index of progressions reads them: "2min 5dom 1maj"."""
        return " ".join(
            f"{chord.degree}{chord.quality_class if chord.quality_class != 'open' else ''}" for chord in self.chords
        )

    @cached_property
    def idiom(self) -> Idiom:
        return make_idiom("line", self.name, self.pattern)

    @property
    def span(self) -> int:
        """Semitones from its lowest to its highest note."""
        heights = [note.height for note in self.notes]
        return max(heights) - min(heights)

    @property
    def begins(self) -> Fraction:
        return self.notes[0].at

    @property
    def ends(self) -> Fraction:
        return self.notes[-1].end

    @property
    def functions(self) -> str:
        """ "2 to 5 to 1, from beat 3 of the 2": what it is played over, and where it starts."""
        told = " to ".join(chord.words for chord in self.chords)
        first = self.chords[self.notes[0].chord]
        beat = (self.landing + self.begins) % self.bar / self.beat + 1
        return f"{told}, from beat {_beat(beat)} over the {first.words}"

    @property
    def by_chord(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """(function of a chord in words, degrees of its notes) for every chord that has some, in order."""
        return tuple(
            (self.chords[chord].words, tuple(note.degree for note in notes))
            for chord, notes in groupby(self.notes, key=lambda note: note.chord)
        )

    @property
    def degrees(self) -> tuple[str, ...]:
        return tuple(note.degree for note in self.notes)


def _beat(beat: Fraction) -> str:
    whole = int(beat)
    return (
        str(whole)
        if beat == whole
        else f"{whole} and a half"
        if beat - whole == Fraction(1, 2)
        else f"{whole} and a bit"
    )


def cut(
    notes: Sequence[Note],
    changes: Sequence[Change],
    grid: Grid,
    first: int,
    last: int,
    source: str = "",
    name: str = "",
) -> CutLine:
    """The notes `first` to `last` of a solo, both included, as a line. Raises `NothingToCut`."""
    if not 0 <= first <= last < len(notes):
        raise NothingToCut(f"there are notes 1 to {len(notes)}: choose from them")
    if last - first + 1 > MOST_NOTES:
        raise NothingToCut(f"a line has at most {MOST_NOTES} notes: choose a shorter stretch")
    changes = [c for n, c in enumerate(changes) if n == 0 or c.symbol != changes[n - 1].symbol]
    readings = read_notes(notes, changes, grid)[first : last + 1]
    silent = next((r.note for r in readings if r.change is None), None)
    if silent is not None:
        number = grid.bar_at(notes[silent].onset).number
        raise NothingToCut(
            f"no chord sounds at note {silent + 1} (bar {number}): a line needs chords, or it has no function"
        )
    stretch = _chords_of(readings, changes)
    landing = _exact(changes[stretch[-1]].start)
    chords = _with_goal(stretch, changes, grid, landing)
    first_played = next(n for n, chord in enumerate(chords) if chord.played)
    cut_notes = tuple(
        _note(notes, readings, n, landing, first_played + stretch.index(readings[n].change or 0), first)
        for n in range(len(readings))
    )
    bar = grid.bar_at(changes[stretch[-1]].start)
    return CutLine(
        cut_notes, chords, (landing - bar.start) % bar.length, bar.length, bar.beat, notes[first].midi, source, name
    )


def _exact(time: Fraction | float) -> Fraction:
    return time if isinstance(time, Fraction) else Fraction(round(time * FINEST), FINEST)


def _chords_of(readings: Sequence[NoteReading], changes: Sequence[Change]) -> list[int]:
    """Indices of the chords from the first note's to the last's."""
    low, high = readings[0].change or 0, readings[-1].change or 0
    if high - low + 1 > MOST_CHORDS:
        raise NothingToCut(f"a line goes over at most {MOST_CHORDS} chords: choose a shorter stretch")
    silent = [n for n in range(low, high + 1) if changes[n].symbol is None]
    if silent:
        raise NothingToCut("the line runs through a stretch without a chord: choose notes on one side of it")
    return list(range(low, high + 1))


def _note(
    notes: Sequence[Note], readings: Sequence[NoteReading], n: int, landing: Fraction, chord: int, first: int
) -> CutNote:
    note, reading = notes[first + n], readings[n]
    following = _exact(notes[first + n + 1].onset) if n + 1 < len(readings) else None
    at = _exact(note.onset)
    length = _exact(note.duration) if note.duration else (following - at if following else Fraction(1, 2))
    if following is not None:
        length = min(length, following - at)
    leads = reading.target - first if reading.target is not None and reading.rule != "escape" else None
    inside = leads is not None and 0 <= leads < len(readings)
    return CutNote(chord, at - landing, max(length, Fraction(1, FINEST)), reading.degree or "1",
                   note.midi - notes[first].midi, leads if inside else None)  # fmt: skip


def _with_goal(
    stretch: Sequence[int], changes: Sequence[Change], grid: Grid, landing: Fraction
) -> tuple[CutChord, ...]:
    """The chords by function, with the one that follows where the last is no home, or the one before a lone home."""
    tonic = _tonic(stretch, changes)
    after = next((n for n in range(stretch[-1] + 1, len(changes)) if changes[n].symbol is not None), None)
    before = next((n for n in range(stretch[0] - 1, -1, -1) if changes[n].symbol is not None), None)
    rows = [(n, True) for n in stretch]
    last = changes[stretch[-1]].symbol
    at_home = last is not None and last.root.pc == tonic
    if after is not None and changes[after].symbol != last and not at_home:
        rows.append((after, False))
    if len(rows) == 1 and before is not None and changes[before].symbol != last:
        rows.insert(0, (before, False))
    if len(rows) == 1 and after is not None and changes[after].symbol != last:
        rows.append((after, False))
    if len(rows) == 1:
        raise NothingToCut("one chord alone has no function: choose notes that come from another chord or lead to one")
    return tuple(_chord(n, played, changes, grid, tonic, landing) for n, played in rows)


def _tonic(stretch: Sequence[int], changes: Sequence[Change]) -> int:
    """Pitch class that the functions are counted from: the aim of the last dominant, else the key, else the last root."""
    for n in reversed(stretch):
        aim = changes[n].aim
        if aim is not None:
            return aim[0]
        symbol = changes[n].symbol
        if symbol is not None and symbol.family == "dominant" and changes[n].function is None:
            return (symbol.root.pc + 5) % 12
    last = changes[stretch[-1]]
    if last.key is not None:
        return last.key.tonic.pc
    return last.symbol.root.pc if last.symbol else 0


def _chord(n: int, played: bool, changes: Sequence[Change], grid: Grid, tonic: int, landing: Fraction) -> CutChord:
    change = changes[n]
    symbol = change.symbol
    assert symbol is not None
    end = (
        _exact(changes[n + 1].start)
        if n + 1 < len(changes)
        else _exact(change.start) + grid.bar_at(change.start).length
    )
    return CutChord(
        DEGREE_NAMES[(symbol.root.pc - tonic) % 12],
        class_of(symbol, change),
        _exact(change.start) - landing,
        end - landing,
        played,
        symbol.degrees,
    )


def class_of(symbol: ChordSymbol, change: Change | None = None) -> str:
    """The class of quality that the index of progressions knows."""
    if change is not None and change.function is not None:
        found = CLASS_OF_QUALITY.get(change.function.quality)
        if found:
            return found
    return _FAMILY_CLASS[symbol.family]
