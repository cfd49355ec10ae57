"""Notes from a file laid into the bars of a solo: on the grid, cut at bar lines, spelled by chord and key. Pure.

How swung eighths were read is said (`Laid.remarks`): where off-beats lie on the last third of the beat again and again
and hardly any lie on the first third, they were swung, and are written as eighths.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from tunes.harmony.pitch.spelling import NoteName, Pitch
from tunes.interchange.foreign import FileMusic, FileNote
from tunes.solos.bars import SoloBar, SoloForm
from tunes.solos.notes import MOST_IN_A_BAR, TUPLETS, Bars, Entry

GRIDS = (4, 3, 6, 8, 5, 7)  # parts of a beat, in the order in which they are preferred
HEADS = tuple(sorted(
    (Fraction(4, 2**power) * dot for power in range(7) for dot in (Fraction(1), Fraction(3, 2))), reverse=True,
))  # fmt: skip
SWUNG = (Fraction(11, 20), Fraction(3, 4))  # where in a beat a swung off-beat lies
FEWEST_SWUNG = 8


@dataclass(frozen=True)
class Laid:
    """The bars, and what the person who sent the file should know."""

    bars: Bars
    remarks: tuple[str, ...]


def lay_out(music: FileMusic, form: SoloForm) -> Laid:
    """The notes of a file from bar 1 of a solo in concert pitch (`form`); a pickup before it has no bar and is said."""
    remarks = list(music.remarks)
    notes = [note for note in music.notes if note.onset + note.duration > 0]
    if len(notes) < len(music.notes):
        count = len(music.notes) - len(notes)
        said = "One note before the first bar was" if count == 1 else f"{count} notes before the first bar were"
        remarks.append(f"{said} left out: begin the solo a bar earlier.")
    if music.performed and _swings(notes):
        notes = [_straight(note) for note in notes]
        remarks.append("The eighths are swung; they are written as eighths.")
    end = form.starts[-1] + form.lengths[-1] if form.bars else Fraction(0)
    inside = [note for note in notes if note.onset < end]
    if len(inside) < len(notes):
        remarks.append(
            f"{len(notes) - len(inside)} notes after the last bar were left out: let the solo cover more bars."
        )
    placed, moved = _on_grid(inside)
    if moved:
        remarks.append(f"{moved} notes lay between the places of a staff and were moved to the nearest.")
    bars = tuple(_bar(bar, placed, spelled=music.spelled, key=form.key.fifths) for bar in form.bars)
    return Laid(bars, tuple(remarks))


def _swings(notes: Sequence[FileNote]) -> bool:
    places = [note.onset % 1 for note in notes]
    late = sum(SWUNG[0] <= place <= SWUNG[1] and place != Fraction(3, 4) for place in places)
    thirds = sum(Fraction(1, 4) < place < Fraction(9, 20) for place in places)
    straight = sum(Fraction(9, 20) <= place < SWUNG[0] for place in places)
    return late >= FEWEST_SWUNG and late > 3 * thirds and late > 3 * straight


def _straight(note: FileNote) -> FileNote:
    """A place in a swung beat as it is written: two thirds are the half, everything else in proportion."""
    onset, end = _even(note.onset), _even(note.onset + note.duration)
    return replace(note, onset=onset, duration=max(end - onset, Fraction(1, 8)))


def _even(time: Fraction) -> Fraction:
    whole, part = time // 1, time % 1
    two_thirds = Fraction(2, 3)
    return whole + (
        part * Fraction(3, 4) if part <= two_thirds else Fraction(1, 2) + (part - two_thirds) * Fraction(3, 2)
    )


def _on_grid(notes: Sequence[FileNote]) -> tuple[list[FileNote], int]:
    """Onsets and ends on one grid a beat: exact where there is one, else the coarsest that moves them least."""
    edges: dict[int, set[Fraction]] = {}
    for note in notes:
        for time in (note.onset, note.onset + note.duration):
            edges.setdefault(int(time // 1), set()).add(time % 1)
    grid = {beat: _grid(parts) for beat, parts in edges.items()}
    found: list[FileNote] = []
    moved = 0
    for note in notes:
        onset, end = _snap(note.onset, grid), _snap(note.onset + note.duration, grid)
        moved += onset != note.onset
        if end <= onset:
            end = onset + Fraction(1, grid.get(int(onset // 1), 4))
        if found and found[-1].onset + found[-1].duration > onset:
            if found[-1].onset >= onset:
                continue  # two on one place: the first stays
            found[-1] = replace(found[-1], duration=onset - found[-1].onset)
        found.append(replace(note, onset=onset, duration=end - onset))
    return found, moved


def _grid(parts: set[Fraction]) -> int:
    for size in GRIDS:
        if all((part * size).denominator == 1 for part in parts):
            return size
    return min(
        (4, 3, 6),
        key=lambda size: (round(sum(float(abs(part - Fraction(round(part * size), size))) for part in parts), 3), size),
    )


def _snap(time: Fraction, grid: dict[int, int]) -> Fraction:
    beat = int(time // 1)
    size = grid.get(beat, 4)
    return beat + Fraction(round((time % 1) * size), size)


def _bar(bar: SoloBar, notes: Sequence[FileNote], *, spelled: bool, key: int) -> tuple[Entry, ...]:
    """One bar: rests between the notes, every span cut into heads, ties over its end. An empty bar stays empty."""
    end = bar.start + bar.length
    here = [note for note in notes if note.onset < end and note.onset + note.duration > bar.start]
    if not here:
        return ()
    spans: list[tuple[Fraction, Fraction, Pitch | None, bool]] = []
    at = bar.start
    for note in here:
        start, stop = max(note.onset, bar.start), min(note.onset + note.duration, end)
        if start > at:
            spans.append((at - bar.start, start - bar.start, None, False))
        pitch = note.pitch if spelled else _spelled(note.pitch.midi, bar, start - bar.start, key)
        spans.append((start - bar.start, stop - bar.start, pitch, note.onset + note.duration > end))
        at = stop
    if at < end:
        spans.append((at - bar.start, bar.length, None, False))
    tuplets = _tuplets(spans)
    return tuple(entry for span in spans for entry in _entries(*span, tuplets, bar.length))[:MOST_IN_A_BAR]


def _tuplets(spans: Sequence[tuple[Fraction, Fraction, Pitch | None, bool]]) -> dict[int, int]:
    """Beat of the bar → what its beat is divided into, where that is no power of two."""
    found: dict[int, int] = {}
    for start, end, _pitch, _tied in spans:
        for time in (start, end):
            for size in TUPLETS:
                if time.denominator % 2 and time.denominator > 1 and size == time.denominator:
                    found[int(time)] = size
                elif size == 6 and time.denominator == 6:
                    found[int(time)] = 6
    return found


def _entries(
    start: Fraction, end: Fraction, pitch: Pitch | None, tied: bool, tuplets: dict[int, int], length: Fraction
) -> list[Entry]:
    """The heads of one span. Inside a tuplet beat it is cut at the beat; elsewhere as players read it."""
    pieces: list[tuple[Fraction, int]] = []
    while start < end:
        beat = int(start)
        if beat in tuplets:
            stop = min(end, Fraction(beat + 1))
            pieces += _tuplet_heads(stop - start, tuplets[beat])
        else:
            limit = next((Fraction(later) for later in sorted(tuplets) if later > start), end)
            stop = min(end, limit, _readable(start, length))
            pieces += [(head, 0) for head in _heads(stop - start, start)]
        start = stop
    last = len(pieces) - 1
    return [
        Entry(head, pitch, size, tie=pitch is not None and (place < last or tied))
        for place, (head, size) in enumerate(pieces)
    ]


def _tuplet_heads(span: Fraction, size: int) -> list[tuple[Fraction, int]]:
    ratio = Fraction(TUPLETS[size], size)
    return [(head * ratio, size) for head in _greedy(span / ratio)]


def _readable(start: Fraction, length: Fraction) -> Fraction:
    """Where a note that begins there should be cut: at the middle of a bar of four, unless it begins on the first beat."""
    if length == 4 and 0 < start < 2:
        return Fraction(2)
    return length


def _heads(span: Fraction, start: Fraction) -> list[Fraction]:
    if span in HEADS:
        return [span]
    to_beat = Fraction(int(start) + 1) - start
    if start.denominator > 1 and 0 < to_beat < span and to_beat in HEADS:
        return [to_beat, *_greedy(span - to_beat)]
    return _greedy(span)


def _greedy(span: Fraction) -> list[Fraction]:
    found = []
    while span > 0:
        head = next((head for head in HEADS if head <= span), None)
        if head is None:
            found.append(span)
            break
        found.append(head)
        span -= head
    return found


def _spelled(midi: int, bar: SoloBar, at: Fraction, key: int) -> Pitch:
    """A sound as a tone of the chord of the moment, else near the key on the line of fifths."""
    chord = next((one for one in reversed(bar.chords) if one.at <= at and one.symbol), None)
    tones = [tone for tone in chord.symbol.tones if tone.pc == midi % 12] if chord and chord.symbol else []
    centre = key + 2
    name = (
        tones[0]
        if tones
        else min(
            (NoteName.from_fifths(f) for f in range(-7, 12) if NoteName.from_fifths(f).pc == midi % 12),
            key=lambda one: abs(one.fifths - centre),
        )
    )
    return Pitch.nearest(name, midi)
