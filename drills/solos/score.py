"""A solo as the engraver and the writers read it: a `Line` for bars, chords and sound, `WrittenBar`s for what stands.

The notes stand as they were written (values, ties, tuplets, ghosts), so nothing is notated anew; beams follow the same
rules as on the page where it is written: half bars of eighths in common time, else by the beat, never out of a tuplet.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from drills.lines.line import Line, LineBar, LineChord, LineNote
from drills.lines.notate import VALUES, Sign, Written, WrittenBar, signature
from tunes.harmony.charts import Metre
from tunes.solos.bars import SoloForm
from tunes.solos.notes import TUPLETS, Bars, Entry, moved, sounding

Degrees = Mapping[tuple[int, int], str]
"""(bar, place of its first entry) → what stands under the note."""
FULL = (Fraction(1, 2), Fraction(1), Fraction(2), Fraction(4))  # quarter notes that a tuplet fills


def solo_line(form: SoloForm, bars: Bars, *, title: str, functions: bool = False) -> Line:
    """The solo over its changes, in the pitch of `form`; `bars` are in concert pitch."""
    printed = moved(bars, form.shift)
    notes = tuple(
        LineNote(one.pitch, one.onset, one.duration, 0) for one in sounding(printed, form.starts, form.lengths)
    )
    return Line(
        kind="solo", title=title, key=form.key, clef=form.instrument.clef, written_for=form.instrument.key, shift=form.shift,
        bars=tuple(LineBar(bar.number, bar.metre, bar.start, bar.length, label=bar.label) for bar in form.bars),
        chords=tuple(_chords(form, functions)), notes=notes,
    )  # fmt: skip


def _chords(form: SoloForm, functions: bool) -> list[LineChord]:
    found = []
    for bar in form.bars:
        for chord in bar.chords:
            function = form.study.reading(chord.event).function if functions and chord.symbol else None
            found.append(LineChord(
                chord.event, chord.symbol, bar.start + chord.at, chord.length,
                numeral=function.numeral if function else "", spoken=function.spoken if function else "",
            ))  # fmt: skip
    return found


def written(line: Line, form: SoloForm, bars: Bars, degrees: Degrees | None = None) -> tuple[WrittenBar, ...]:
    """Every bar as it stands; an empty one is a rest."""
    printed = moved(bars, form.shift)
    found = []
    tied = False
    for index, (bar, entries) in enumerate(zip(line.bars, printed, strict=True)):
        row, tied = _bar(index, entries, bar, tied, degrees or {})
        found.append(WrittenBar(bar, (_standing(row, bar.metre, line.key.fifths),)))
    return tuple(found)


def _bar(
    index: int, entries: Sequence[Entry], bar: LineBar, tied: bool, degrees: Degrees
) -> tuple[list[Written], bool]:
    if not entries:
        return [Written(None, 1, 0, Fraction(0), bar.length, 0, whole_bar=True)], False
    at, row = Fraction(0), []
    ends = _tuplet_ends(entries)
    for place, entry in enumerate(entries):
        pieces = _pieces(entry.printed, entry.length)
        for number, (value, dots, length) in enumerate(pieces):
            row.append(Written(
                entry.pitch, value, dots, at, length, index * 128 + place,
                tied_from=entry.pitch is not None and (tied or number > 0),
                tied_to=entry.pitch is not None and (entry.tie or number < len(pieces) - 1),
                tuplet=(entry.tuplet, TUPLETS[entry.tuplet], ends[place]) if entry.tuplet else None, ghost=entry.ghost,
                under=degrees.get((index, place), "") if number == 0 else "",
            ))  # fmt: skip
            at += length
        tied = entry.tie
    return row, tied


@lru_cache(maxsize=1024)
def _pieces(printed: Fraction, length: Fraction) -> tuple[tuple[int, int, Fraction], ...]:
    """(value, dots, sounding length) of an entry, by its printed and its sounding length: one head, or tied ones where no single head
    says it."""
    left, pieces = printed, []
    ratio = length / printed
    while left > 0:
        one = left if left in VALUES else max((v for v in VALUES if v <= left), default=min(VALUES))
        value, dots = VALUES[one]
        pieces.append((value, dots, min(one, left) * ratio))
        left -= one
    return tuple(pieces)


def _tuplet_ends(entries: Sequence[Entry]) -> list[str]:
    """ "start", "stop" or "" for every entry of a tuplet; a group ends where it fills a half, a whole, two or four beats."""
    ends = [""] * len(entries)
    first, total = -1, Fraction(0)
    for place, entry in enumerate(entries):
        if first >= 0 and entry.tuplet != entries[first].tuplet:
            ends[place - 1], first = "stop" if place - 1 > first else "both", -1
        if not entry.tuplet:
            continue
        if first < 0:
            first, total = place, Fraction(0)
            ends[place] = "start"
        total += entry.length
        if place > first and total in FULL:
            ends[place], first = "stop", -1
    if first >= 0:
        ends[-1] = "stop" if len(entries) - 1 > first else "both"
    return ends


def _standing(row: Sequence[Written], metre: Metre, fifths: int) -> tuple[Written, ...]:
    """With beams, and the accidentals that neither the signature nor a note before on that line says."""
    beams, signs = _beams(row, metre), _signs(row, fifths)
    return tuple(
        replace(note, beam=beam, sign=sign) if beam is not None or sign is not None else note
        for note, beam, sign in zip(row, beams, signs, strict=True)
    )


def _beams(row: Sequence[Written], metre: Metre) -> list[int | None]:
    found: list[int | None] = []
    run, last = 0, None
    groups = _groups(row, metre)
    for i, group in enumerate(groups):
        run += group is not None and group != last
        alone = group != last and (i + 1 == len(row) or groups[i + 1] != group)
        last = group
        found.append(None if group is None or alone else run)
    return found


def _groups(row: Sequence[Written], metre: Metre) -> list[tuple[object, ...] | None]:
    half = Fraction(2) if metre.unit == 4 and metre.beats % 2 == 0 else None
    beat = Fraction(3, 2) if metre.unit == 8 and metre.beats % 3 == 0 else Fraction(1)
    halves = [note.start // half if half else 0 for note in row]
    broken = {at for at, note in zip(halves, row, strict=True) if note.value > 8 or note.tuplet is not None}
    tuplet = 0
    found: list[tuple[object, ...] | None] = []
    for at, note in zip(halves, row, strict=True):
        ends = note.tuplet[2] if note.tuplet else ""
        tuplet += ends in ("start", "both")
        where = ("half", at) if half and at not in broken else ("beat", note.start // beat)
        found.append((*where, tuplet if note.tuplet else None) if note.pitch is not None and note.value >= 8 else None)
    return found


def _signs(row: Sequence[Written], fifths: int) -> list[Sign | None]:
    holds: dict[tuple[str, int], int] = {}
    base = signature(fifths)
    found: list[Sign | None] = []
    for note in row:
        if note.pitch is None:
            found.append(None)
            continue
        letter, alter = note.pitch.name.letter, note.pitch.name.alter
        before = holds.get((letter, note.pitch.octave), base.get(letter, 0))
        holds[letter, note.pitch.octave] = alter
        found.append(None if before == alter or note.tied_from else Sign(alter))
    return found
