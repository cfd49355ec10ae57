"""A line carried: over one place, through the form, through twelve keys. What comes out is a `drills.lines.line.Line`."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Protocol

from drills.lines import guide_tones
from drills.lines.compass import Compass, range_remarks
from drills.lines.keys import key_order
from drills.lines.line import Line, LineBar, LineChord, LineNote, Remark
from drills.lines.passage import Passage, passage
from tunes.harmony.analysis.pipeline import Analysis
from tunes.harmony.charts.bars import Metre
from tunes.harmony.charts.model import Chart
from tunes.harmony.chords import ChordSymbol, make_symbol
from tunes.harmony.pitch.spelling import Key, sensible

from .cut import CutLine
from .fitting import Fitted, fitted
from .joining import SHORTEST_JOIN, Window, joined, until_joined, window_of, with_rests, without_silence
from .places import Place

_KIND_OF_CLASS = {
    "maj": ("1", "3", "5", "7"), "min": ("1", "b3", "5", "b7"), "dom": ("1", "3", "5", "b7"), "half": ("1", "b3", "b5", "b7"),
    "dim": ("1", "b3", "b5", "bb7"), "aug": ("1", "3", "#5"), "sus": ("1", "4", "5", "b7"), "open": ("1", "5"),
}  # fmt: skip


class Study(Protocol):
    """What is read of a study chart in the printed key."""

    @property
    def chart(self) -> Chart: ...
    @property
    def analysis(self) -> Analysis | None: ...
    @property
    def key(self) -> Key: ...


@dataclass(frozen=True, slots=True)
class Carried:
    """A line over a place: the music, or why it does not fit."""

    line: Line | None
    done: tuple[str, ...] = ()
    why_not: str = ""


def carry(line: CutLine, symbols: Sequence[ChordSymbol], compass: Compass, keys: Sequence[Key] = ()) -> Fitted:
    """The pitches of a line over chords as printed, inside the range; `why_not` says why there are none."""
    return fitted(line, symbols, compass, keys)


# --- one place ---


def over_place(study: Study, line: CutLine, place: Place, compass: Compass, written_for: str = "") -> Carried:
    """The bars of one place with the line in them, joined to what comes before and after by the nearest chord tone."""
    if place.why_not:
        return Carried(None, why_not=place.why_not)
    part = passage(study.chart, study.analysis)
    found = fitted(line, _symbols(part, place), compass, _keys(part, place))
    if found.why_not:
        return Carried(None, why_not=found.why_not)
    landing = place.starts[max(note.chord for note in line.notes)]
    notes = _placed(line, place, found, landing)
    window = window_of(part, max(place.starts[0], notes[0].start - line.bar), until_joined(line, place, notes[-1]))
    notes = [replace(note, start=note.start - window.start) for note in notes]
    music_notes, window = without_silence(joined(notes, window, compass), window)
    done = _done(line, place, found)
    remarks = tuple(Remark(text[0].upper() + text[1:] + ".") for text in done)
    music = Line(
        kind="vocabulary", title=_title(line), key=study.key, bars=window.bars, chords=window.chords,
        notes=tuple(with_rests(music_notes, window)), clef=compass.clef, written_for=written_for, shift=compass.shift,
        remarks=remarks,
    )  # fmt: skip
    return Carried(music, done)


def _done(line: CutLine, place: Place, found: Fitted) -> tuple[str, ...]:
    """What was done to the line to bring it here, in words."""
    return (
        *found.done,
        *(["half a bar from where it was in the bar"] if place.moved else []),
        *([line.changed] if line.changed else []),
    )


def _title(line: CutLine) -> str:
    return line.name or f"A line over {line.functions}"


def _symbols(part: Passage, place: Place) -> list[ChordSymbol]:
    by_event = {chord.event: chord.symbol for chord in part.chords}
    found = [by_event[event] for event in place.events]
    return [symbol for symbol in found if symbol is not None]


def _keys(part: Passage, place: Place) -> list[Key]:
    return [part.key_at(event) for event in place.events]


def _placed(line: CutLine, place: Place, found: Fitted, landing: Fraction) -> list[LineNote]:
    return [
        LineNote(pitch, landing + note.at, note.duration, place.events[note.chord], note.degree)
        for note, pitch in zip(line.notes, found.pitches, strict=True)
    ]


# --- through the form ---


def over_form(study: Study, line: CutLine, places: Iterable[Place], compass: Compass, written_for: str = "") -> Line:
    """The whole chorus: the line at every place where it fits, one after the other, guide tones between.

    Places that run through the repeat of the form, or into one that is already taken, are left out and said.
    """
    part = passage(study.chart, study.analysis)
    end = part.bars[-1].end
    taken: list[LineNote] = []
    remarks: list[Remark] = []
    for place in sorted(places, key=lambda one: one.starts[0] if one.starts else Fraction(0)):
        bar = part.bar_number(place.starts[0] % end) if place.starts else None
        found = (
            Fitted(why_not=place.why_not)
            if place.why_not
            else fitted(line, _symbols(part, place), compass, _keys(part, place))
        )
        if found.why_not:
            remarks.append(Remark(f"The line does not fit here, because {found.why_not}.", bar))
            continue
        notes = _placed(line, place, found, place.starts[max(note.chord for note in line.notes)])
        if notes[0].start < 0 or notes[-1].end > end or (taken and notes[0].start < taken[-1].end):
            remarks.append(Remark("The line is left out here: it would run into the next one or past the end.", bar))
            continue
        taken += notes
        remarks += [Remark(text[0].upper() + text[1:] + ".", bar) for text in _done(line, place, found)]
    window = Window(Fraction(0), part.bars, part.chords)
    notes = sorted([*taken, *_between(taken, part, compass)], key=lambda note: note.start)
    remarks += range_remarks(notes, compass, lambda note: part.bar_number(note.start))
    return Line(
        kind="vocabulary", title=_title(line), key=part.key, bars=part.bars, chords=part.chords,
        notes=tuple(with_rests(notes, window)), clef=compass.clef, written_for=written_for, shift=compass.shift,
        remarks=tuple(remarks),
    )  # fmt: skip


def _between(taken: Sequence[LineNote], part: Passage, compass: Compass) -> list[LineNote]:
    """Guide tones where the line is silent."""
    spans = part.spans
    choice = guide_tones.smoothest([span.symbol for span in spans], "", 1)
    placed = guide_tones.pitches(choice, spans, compass)
    notes: list[LineNote] = []
    for span, tones, heights in zip(spans, choice.tones, placed, strict=True):
        if heights is None:
            continue
        for chord in span.chords:
            for start, end in _free(chord.start, chord.end, taken):
                degree = (tones or ())[0].degree
                notes.append(LineNote(heights.at(start)[0], start, end - start, chord.event, degree))
    return notes


def _free(start: Fraction, end: Fraction, taken: Sequence[LineNote]) -> list[tuple[Fraction, Fraction]]:
    """What the line leaves of a stretch, gaps inside the line not counted, pieces shorter than a beat left silent."""
    pieces, at = [], start
    for note in taken:
        if note.end <= at or note.start >= end:
            continue
        pieces.append((at, note.start))
        at = max(at, note.end)
    pieces.append((at, end))
    return [(a, b) for a, b in pieces if b - a >= SHORTEST_JOIN]


# --- twelve keys ---


def in_twelve_keys(
    line: CutLine,
    compass: Compass,
    *,
    start: Key | None = None,
    order: str = "fourths",
    written_for: str = "",
    seed: int = 0,
) -> tuple[tuple[Key, Carried], ...]:
    """The line over its own functions in every key (printed), each with its key; raises ValueError for an unknown order."""
    first = start or Key.parse("C minor" if _minor(line) else "C major")
    return tuple((key, _in_key(line, key, compass, written_for)) for key in key_order(sensible(first), order, seed))


def _minor(line: CutLine) -> bool:
    return any(chord.degree == "1" and chord.quality_class == "min" for chord in line.chords)


def chords_in(line: CutLine, key: Key) -> list[ChordSymbol]:
    """The chords of a line in a key, in their plain form."""
    return [make_symbol(key.note_at(chord.degree), _KIND_OF_CLASS[chord.quality_class]) for chord in line.chords]


def _in_key(line: CutLine, key: Key, compass: Compass, written_for: str) -> Carried:
    symbols = chords_in(line, key)
    found = fitted(line, symbols, compass, [key] * len(symbols))
    if found.why_not:
        return Carried(None, why_not=found.why_not)
    window = _own_window(line, symbols)
    zero = window.start
    notes = [
        LineNote(pitch, note.at - zero, note.duration, note.chord, note.degree)
        for note, pitch in zip(line.notes, found.pitches, strict=True)
    ]
    music_notes = joined(notes, window, compass, before=False)
    music = Line(
        kind="vocabulary", title=f"{_title(line)}, in {key.display}", key=key, bars=window.bars, chords=window.chords,
        notes=tuple(with_rests(music_notes, window)), clef=compass.clef, written_for=written_for, shift=compass.shift,
        remarks=tuple(Remark(text[0].upper() + text[1:] + ".") for text in found.done),
    )  # fmt: skip
    return Carried(music, found.done)


def _own_window(line: CutLine, symbols: Sequence[ChordSymbol]) -> Window:
    """Whole bars of the line's own length round its chords."""
    starts = min(line.chords[0].start, line.begins) if line.chords[0].played else line.begins
    low = (starts + line.landing) // line.bar * line.bar - line.landing
    last = line.chords[-1]
    high = max(line.ends, min(last.end, last.start + line.bar))
    count = int(-(-(high - low) // line.bar))
    metre = Metre(int(line.bar / line.beat), int(4 / line.beat))
    bars = tuple(LineBar(n + 1, metre, n * line.bar, line.bar) for n in range(count))
    end = low + count * line.bar
    rows = [
        LineChord(n, symbol, max(chord.start, low) - low, min(_until(line, n, end), end) - max(chord.start, low))
        for n, (chord, symbol) in enumerate(zip(line.chords, symbols, strict=True))
    ]
    return Window(low, bars, tuple(row for row in rows if row.duration > 0))


def _until(line: CutLine, n: int, end: Fraction) -> Fraction:
    return line.chords[n + 1].start if n + 1 < len(line.chords) else end
