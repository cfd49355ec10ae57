"""Notes suggested from onsets in the seconds of a recording: tapped on the page, played along on a keyboard, or heard by a program.

`tunes.melody.place` puts them on bars and beats from the taps of the form map; here they become bars of a solo, every note
marked as a guess. An onset without a pitch gets the chord tone nearest to the note before. Nothing is written: what comes out
is a suggestion for the page.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

from tunes.harmony.pitch.spelling import Pitch
from tunes.interchange.foreign import FileMusic, FileNote
from tunes.melody import Tap, place, swing_ratio
from tunes.recordings.form_map import Moment
from tunes.solos.bars import Covers, SoloForm, form_length
from tunes.solos.layout import lay_out
from tunes.solos.notes import Bars

MOST_ONSETS = 2000
LONGEST = Fraction(1)
"""Quarter notes that a note without an end lasts at most: until the next one, and not on and on."""
LAST = 24 * 3600.0
LOWEST, HIGHEST = 12, 120  # MIDI numbers
FAR_TAPS = 4
"""Bars from one tap to the next beyond which beats are guessed from the notes."""


class NoPlaces(ValueError):
    """Onsets that cannot be placed; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class Onset:
    """One note as it was tapped or heard: seconds in the recording; `midi` None where only the rhythm is known; `end` in seconds."""

    at: float
    midi: int | None = None
    end: float | None = None


@dataclass(frozen=True)
class Suggested:
    """Bars of the solo, every note a guess; `filled` are the bars (from 0) that hold one; what the person should know."""

    bars: Bars
    filled: tuple[int, ...]
    remarks: tuple[str, ...]


def read_onsets(data: Any) -> list[Onset]:
    """Onsets from plain data: a list of {"at": seconds, "midi": number?, "end": seconds?}, put in order. Raises `NoPlaces`."""
    if not isinstance(data, list) or not data:
        raise NoPlaces("There is nothing to place yet: tap the notes while the recording plays.")
    if len(data) > MOST_ONSETS:
        raise NoPlaces(f"That is {len(data)} notes; at most {MOST_ONSETS} are placed at once.")
    found = [_onset(row, number) for number, row in enumerate(data, 1)]
    return sorted(found, key=lambda one: one.at)


def _onset(row: Any, number: int) -> Onset:
    if not isinstance(row, dict):
        raise NoPlaces(f"Note {number} is not an object with its second.")
    at: Any = row.get("at")
    midi, end = row.get("midi"), row.get("end")
    if not _is_second(at):
        raise NoPlaces(f"Note {number} has no second: write a number from 0.")
    if midi is not None and not (isinstance(midi, int) and not isinstance(midi, bool) and LOWEST <= midi <= HIGHEST):
        raise NoPlaces(f"Note {number}: its pitch is a MIDI number from {LOWEST} to {HIGHEST}.")
    if end is not None and not _is_second(end):
        raise NoPlaces(f"Note {number}: its end is a second as well.")
    return Onset(float(at), midi, float(end) if end is not None and end > at else None)


def _is_second(value: Any) -> bool:
    return (
        isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value) and 0 <= value <= LAST
    )


def suggest(
    onsets: Sequence[Onset], form: SoloForm, covers: Covers, moments: Sequence[Moment], *, swing: bool = True
) -> Suggested:
    """The onsets on the bars of a solo in concert pitch. `swing`: two notes on the thirds of a beat are eighths. Raises `NoPlaces`."""
    beats, unit = _metre(form)
    bars = form_length(form.study.chart)
    taps = [Tap(one.seconds, (one.chorus - 1) * bars + one.bar, 1) for one in moments]
    if len({tap.bar for tap in taps}) < 2:
        raise NoPlaces(
            "The form map of this recording has fewer than two moments: tap it first, a tap every four bars at least."
        )
    placed = place([one.at for one in onsets], taps, beats, swing)
    before = (covers.first_chorus - 1) * bars + covers.first_bar - 1
    quarter = Fraction(4, unit)
    rows: list[tuple[Fraction, Onset]] = []
    for onset, spot in zip(onsets, placed, strict=True):
        index = spot.bar - 1 - before
        if 0 <= index < len(form.bars):
            rows.append((form.starts[index] + (spot.beat - 1 + spot.tick) * quarter, onset))
    if not rows:
        raise NoPlaces("These notes lie outside the bars of this solo: loop its bars and tap again.")
    remarks = []
    if len(rows) < len(onsets):
        remarks.append(f"{len(onsets) - len(rows)} notes lie outside the bars of this solo and were left out.")
    if swing and (ratio := swing_ratio(placed)) and ratio > 1.2:
        remarks.append(f"Swung, about {ratio:.1f} to 1; written as eighths.")
    if any(b.bar - a.bar > FAR_TAPS for a, b in pairwise(sorted(taps, key=lambda tap: tap.bar))):
        remarks.append(
            "The form map has gaps of more than four bars, so the beats there are guessed too: tap it at least every four bars."
        )
    music = FileMusic(
        tuple(_notes(rows, form, _quarter_seconds(taps, beats * quarter))), spelled=False, remarks=tuple(remarks)
    )
    laid = lay_out(music, form)
    marked = _guessed(laid.bars)
    return Suggested(marked, tuple(n for n, bar in enumerate(marked) if bar), laid.remarks)


def _metre(form: SoloForm) -> tuple[int, int]:
    metres = {(bar.metre.beats, bar.metre.unit) for bar in form.bars}
    if len(metres) > 1:
        raise NoPlaces(
            "The bars of this solo have different lengths; tapping places notes in bars of one length only. Write it on the staff."
        )
    return metres.pop()


def _quarter_seconds(taps: Sequence[Tap], bar: Fraction) -> float:
    """How long a quarter note lasts, from the first tap to the last."""
    first, last = min(taps, key=lambda tap: tap.bar), max(taps, key=lambda tap: tap.bar)
    return max((last.second - first.second) / float((last.bar - first.bar) * bar), 0.05)


def _lasts(onset: Onset, quarter: float) -> Fraction:
    """Quarter notes until its end, in eighths; a quarter where no end is known."""
    return (
        LONGEST if onset.end is None else max(Fraction(1, 2), Fraction(round((onset.end - onset.at) / quarter * 2), 2))
    )


def _notes(rows: Sequence[tuple[Fraction, Onset]], form: SoloForm, quarter: float) -> list[FileNote]:
    """Each note until the next, not longer than a quarter unless its end is known; two on one place are one."""
    found: list[FileNote] = []
    places = sorted({at for at, _ in rows})
    following = dict(pairwise(places))
    last: int | None = None
    seen: set[Fraction] = set()
    for at, onset in rows:
        if at in seen:
            continue
        seen.add(at)
        midi = onset.midi if onset.midi is not None else _near(at, last, form)
        length = _lasts(onset, quarter)
        if at in following:
            length = min(length, following[at] - at)
        last = midi
        found.append(FileNote(at, length, _plain(midi)))
    return found


def _plain(midi: int) -> Pitch:
    """Any spelling: the layout spells by chord and key."""
    names = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
    return Pitch.parse(f"{names[midi % 12]}{midi // 12 - 1}")


def _near(at: Fraction, last: int | None, form: SoloForm) -> int:
    """The chord tone nearest to the note before, another than it where there is one as near."""
    index = max(n for n, start in enumerate(form.starts) if start <= at)
    chord = next((c for c in reversed(form.bars[index].chords) if c.at <= at - form.starts[index] and c.symbol), None)
    middle = last if last is not None else 67
    if chord is None or chord.symbol is None:
        return middle
    pcs = {tone.pc for tone in chord.symbol.tones}
    near = sorted((abs(midi - middle), midi) for midi in range(middle - 7, middle + 8) if midi % 12 in pcs)
    return near[0][1] if near else middle


def _guessed(bars: Bars) -> Bars:
    """Every head that begins a note is a guess; one that a tie leads to, over the bar line too, is not counted again."""
    found, tied = [], False
    for bar in bars:
        rows = []
        for entry in bar:
            rows.append(replace(entry, guess=entry.pitch is not None and not tied))
            tied = entry.tie
        found.append(tuple(rows))
    return tuple(found)
