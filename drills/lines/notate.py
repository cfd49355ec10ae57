"""From a line to what stands on the staff: note values, ties, beams, accidentals.

Both writers (MEI for the page, MusicXML for exchange) read this, so that they show the same music. Times are
crotchets from the start of the bar.

Rules, common practice (cf. Gould, *Behind Bars*, Faber 2011, on beaming, ties and cautionary accidentals; from
memory): a note is split and tied at a barline and where it would hide the middle of a bar of four or the second
beat group; quavers are beamed in half bars in 4/4, by the beat in 3/4 and 5/4, by three in compound metres; an
accidental holds for its octave until the barline; a note that an accidental changed in the bar before, or in
another octave of the same bar, gets a courtesy accidental in brackets; a bar of nothing but such reminders gets none.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from tunes.harmony.charts.bars import Metre
from tunes.harmony.pitch.spelling import Key, Pitch
from tunes.notation.staff import note_values

from .line import QUAVER, Line, LineBar, LineNote

# Crotchets to (note value as the reciprocal of a whole note, dots); what one note head can say.
VALUES = note_values(1)
# Where groups begin in a bar, in crotchets, for metres that are not one group per beat.
GROUPS: dict[str, tuple[int | Fraction, ...]] = {
    "4/4": (0, 2), "2/2": (0, 2), "3/4": (0, 1, 2), "2/4": (0, 1), "5/4": (0, 1, 2, 3, 4), "6/4": (0, 1, 2, 3, 4, 5),
    "3/8": (0,), "6/8": (0, Fraction(3, 2)), "9/8": (0, Fraction(3, 2), 3), "12/8": (0, Fraction(3, 2), 3, Fraction(9, 2)),
    "5/8": (0, Fraction(3, 2)), "7/8": (0, 1, 2), "7/4": (0, 1, 2, 3, 4, 5, 6),
}  # fmt: skip
# Places that a note must not hide unless it begins or ends the bar.
MIDDLES: dict[str, tuple[int | Fraction, ...]] = {
    "4/4": (2,), "2/2": (2,), "5/4": (3,), "6/4": (3,), "7/4": (4,), "6/8": (Fraction(3, 2),),
    "9/8": (Fraction(3, 2), 3), "12/8": (Fraction(3, 2), 3, Fraction(9, 2)), "5/8": (Fraction(3, 2),), "7/8": (2,),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Sign:
    """A written accidental: `alter` as on the note; `courtesy` when it only reminds (printed in brackets)."""

    alter: int
    courtesy: bool = False


@dataclass(frozen=True, slots=True)
class Written:
    """One note head or rest on the staff.

    value, dots    4 and 1 is a dotted crotchet.
    start          crotchets from the barline; duration likewise.
    tied_from, tied_to   a tie arrives, a tie leaves.
    beam           number of its beam group in the bar, None without a beam.
    index          index of its note in `Line.notes`.
    whole_bar      a rest that fills the bar.
    stack          (pitch, sign) of the further heads on the same stem, low to high.
    tuplet         (3, 2, "start"): three in the time of two, the first of its group ("", "stop", "both").
    ghost          its head stands in brackets. under  what stands below it.
    """

    pitch: Pitch | None
    value: int
    dots: int
    start: Fraction
    duration: Fraction
    index: int
    voice: int = 1
    tied_from: bool = False
    tied_to: bool = False
    beam: int | None = None
    sign: Sign | None = None
    breath: bool = False
    whole_bar: bool = False
    stack: tuple[tuple[Pitch, Sign | None], ...] = ()
    tuplet: tuple[int, int, str] | None = None
    ghost: bool = False
    under: str = ""


@dataclass(frozen=True, slots=True)
class WrittenBar:
    """The notes of one bar, voice by voice."""

    bar: LineBar
    voices: tuple[tuple[Written, ...], ...]


def notate(line: Line) -> tuple[WrittenBar, ...]:
    """Every bar of a line as it stands on the staff."""
    memory = _Memory(line.key)
    result = []
    pieces = _pieces(line)
    count = line.voices
    for place, bar in enumerate(line.bars):
        memory.barline()
        voices = tuple(_beamed(pieces.get((place, voice), []), bar.metre) for voice in range(1, count + 1))
        result.append(WrittenBar(bar, _with_signs(voices, memory)))
    return tuple(result)


def _pieces(line: Line) -> dict[tuple[int, int], list[Written]]:
    """Every note cut at barlines and into note values, by index of bar and voice."""
    pieces: dict[tuple[int, int], list[Written]] = {}
    edges = [(bar, bar.start, bar.end) for bar in line.bars]
    for voice in range(1, line.voices + 1):
        at = 0
        for index, note in enumerate(line.notes):
            if note.voice != voice:
                continue
            start, end = note.start, note.end
            while start >= edges[at][2]:
                at += 1
            if end <= edges[at][2]:  # inside one bar, as most notes are
                pieces.setdefault((at, voice), []).extend(_cut(note, index, edges[at][0], start, note.duration))
                continue
            place = at
            while start < end and place < len(edges):
                bar, _, bar_end = edges[place]
                stop = min(end, bar_end)
                pieces.setdefault((place, voice), []).extend(_cut(note, index, bar, start, stop - start))
                start, place = stop, place + 1
    return pieces


def _cut(note: LineNote, index: int, bar: LineBar, start: Fraction, length: Fraction) -> list[Written]:
    """The note values of so much of one note inside one bar, tied together."""
    here = start - bar.start
    if length == QUAVER and note.pitch is not None and 2 % here.denominator == 0:  # most notes of most drills
        return [Written(note.pitch, 8, 0, here, length, index, note.voice, breath=note.breath, stack=_heads(note))]
    if note.pitch is None and length == bar.length:
        return [Written(None, 1, 0, Fraction(0), bar.length, index, note.voice, whole_bar=True)]
    spans = _split(here, here + length, bar.metre, bar.length)
    pieces = []
    for place, (begin, piece) in enumerate(spans):
        value, dots = VALUES[piece]
        last = place == len(spans) - 1 and start + length == note.end
        pieces.append(
            Written(
                note.pitch,
                value,
                dots,
                begin,
                piece,
                index,
                note.voice,
                tied_from=note.pitch is not None and (place > 0 or start > note.start),
                tied_to=note.pitch is not None and not last,
                breath=note.breath and last,
                stack=_heads(note),
            )
        )
    return pieces


def _heads(note: LineNote) -> tuple[tuple[Pitch, Sign | None], ...]:
    return tuple((pitch, None) for pitch in note.stack) if note.stack else ()


def split(start: Fraction, end: Fraction, metre: Metre, length: Fraction) -> list[tuple[Fraction, Fraction]]:
    """(start, duration) of the note values that a stretch of a bar is written with.

    >>> split(Fraction(1, 2), Fraction(4), Metre(4, 4), Fraction(4))
    [(Fraction(1, 2), Fraction(3, 2)), (Fraction(2, 1), Fraction(2, 1))]
    """
    if start >= end:
        return []
    middle = next((Fraction(m) for m in MIDDLES.get(metre.text, ()) if start < m < end), None)
    edge = (start == 0 or end == length) and (start.denominator == end.denominator == 1 or (end - start) == length)
    if end - start in VALUES and (middle is None or edge):
        return [(start, end - start)]
    if middle is not None and not (start == 0 and end - start in VALUES):
        return split(start, middle, metre, length) + split(middle, end, metre, length)
    return _by_beats(start, end)


_split = lru_cache(maxsize=4096)(split)  # the same few places of a bar come again and again


def _by_beats(start: Fraction, end: Fraction) -> list[tuple[Fraction, Fraction]]:
    """Off a beat: first to the beat; then the longest values that fit."""
    pieces: list[tuple[Fraction, Fraction]] = []
    while start < end:
        left = end - start
        to_beat = Fraction(int(start) + 1) - start
        fitting = [v for v in VALUES if v <= left]
        if not fitting:
            raise ValueError(f"{left} crotchets is shorter than any note value that a drill is written in")
        length = left if left in VALUES and (start.denominator == 1 or left <= to_beat) else None
        if length is None:
            length = to_beat if start.denominator != 1 and to_beat in VALUES and to_beat <= left else max(fitting)
        pieces.append((start, length))
        start += length
    return pieces


def _beamed(notes: Sequence[Written], metre: Metre) -> tuple[Written, ...]:
    """Beam groups: neighbouring quavers or shorter inside one beat group; a group of one keeps its flag."""
    groups = GROUPS.get(metre.text) or tuple(range(int(metre.quarters)))
    keyed = [_group(groups, note.start) if note.pitch is not None and note.value >= 8 else None for note in notes]
    result, run = list(notes), 0
    for i, key in enumerate(keyed):
        if key is None:
            continue
        starts = i == 0 or keyed[i - 1] != key
        run += starts
        alone = starts and (i + 1 == len(notes) or keyed[i + 1] != key)
        if not alone:
            result[i] = _with_beam(notes[i], run)
    return tuple(result)


@lru_cache(maxsize=2048)
def _group(groups: tuple[int | Fraction, ...], start: Fraction) -> int:
    return bisect_right(groups, start) - 1


def _with_beam(note: Written, beam: int) -> Written:
    """`dataclasses.replace` in a quarter of its time: this runs once for every quaver."""
    return Written(
        note.pitch, note.value, note.dots, note.start, note.duration, note.index, note.voice, note.tied_from,
        note.tied_to, beam, note.sign, note.breath, note.whole_bar, note.stack,
    )  # fmt: skip


MOST_REMINDERS = 3  # courtesy accidentals of a bar that has no other accidental


class _Memory:
    """Which accidentals hold: by letter and octave in this bar, by letter in the bar before."""

    def __init__(self, key: Key) -> None:
        self.signature = signature(key.fifths)
        self.here: dict[tuple[str, int], int] = {}
        self.before: dict[tuple[str, int], int] = {}

    def barline(self) -> None:
        self.before, self.here = self.here, {}

    def sign(self, pitch: Pitch) -> Sign | None:
        """The sign to print in front of a note, and remember it."""
        letter, alter = pitch.name.letter, pitch.name.alter
        place = (letter, pitch.octave)
        first = place not in self.here
        holds = self.here.get(place, self.signature.get(letter, 0))
        self.here[place] = alter
        if holds != alter:
            self.forget(letter)
            return Sign(alter)
        if first and self._elsewhere(letter, pitch.octave, alter):
            self.forget(letter)
            return Sign(alter, courtesy=True)
        return None

    def _elsewhere(self, letter: str, octave: int, alter: int) -> bool:
        """Whether the letter sounded otherwise in another octave of this bar, or in the bar before."""
        return any(
            name == letter and kept != alter
            for held, skip in ((self.here, octave), (self.before, None))
            for (name, at), kept in held.items()
            if at != skip
        )

    def forget(self, letter: str) -> None:
        """One reminder is enough: the bar before is forgotten for that letter."""
        self.before = {place: kept for place, kept in self.before.items() if place[0] != letter}


def signature(fifths: int) -> dict[str, int]:
    """Letters that a key signature alters.

    >>> signature(-2)
    {'B': -1, 'E': -1}
    """
    letters = "FCGDAEB" if fifths > 0 else "BEADGCF"
    return dict.fromkeys(letters[: min(abs(fifths), 7)], 1 if fifths > 0 else -1)


def _with_signs(voices: tuple[tuple[Written, ...], ...], memory: _Memory) -> tuple[tuple[Written, ...], ...]:
    """Accidentals in order of time over all voices; none on a note that a tie arrives at."""
    result = [list(voice) for voice in voices]
    places = [(v, i) for v, voice in enumerate(voices) for i in range(len(voice))]
    if len(voices) > 1:
        places.sort(key=lambda at: (voices[at[0]][at[1]].start, at[0]))
    for v, i in places:
        note = voices[v][i]
        if note.pitch is None or note.tied_from:
            continue
        sign = memory.sign(note.pitch)
        stack = tuple((pitch, memory.sign(pitch)) for pitch, _ in note.stack)
        if sign is not None or stack:
            result[v][i] = replace(note, sign=sign, stack=stack)
    return _without_a_row_of_reminders(tuple(tuple(voice) for voice in result))


def _without_a_row_of_reminders(voices: tuple[tuple[Written, ...], ...]) -> tuple[tuple[Written, ...], ...]:
    """A bar that only follows the signature after one that did not is plain by itself: reminders on three notes and more
    say nothing that its bareness does not. Common practice, no source."""
    signs = [sign for voice in voices for note in voice for sign in (note.sign, *(s for _, s in note.stack)) if sign]
    if len(signs) < MOST_REMINDERS or not all(sign.courtesy for sign in signs):
        return voices
    return tuple(
        tuple(replace(note, sign=None, stack=tuple((pitch, None) for pitch, _ in note.stack)) for note in voice)
        for voice in voices
    )
