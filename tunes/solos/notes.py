"""The notes of a solo as they stand on the page, and as they sound. Pure.

All times are exact `Fraction` quarter notes. A bar holds its entries (notes and rests) one after the other, so a bar
that is too short or too long for its metre can be kept as it is. Pitches are concert pitch, spelled. What is stored is
versioned JSON; `read_notes` reads every version that was ever stored and is the only place that does::

    {"version": 1, "notes": [
        {"bar": 1, "at": "0", "length": "1/2", "pitch": "Bb4"},
        {"bar": 1, "at": "1/2", "length": "1/3", "pitch": "C5", "tuplet": [3, 2], "tie": true},
        {"bar": 1, "at": "5/6", "length": "1"}]}

`bar` counts the bars of the solo from 1, `at` is the place in it; an entry without a pitch is a rest. Flags that are
not set are left out: `tie` (to the next note of that pitch), `ghost` (hardly sounded), `guess` (to be heard again).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from tunes.harmony.pitch.spelling import Interval, Pitch, SpellingError

VERSION = 1
FINEST = 1680  # every length is a whole number of 1680ths of a quarter note: 64ths, and tuplets of 3, 5 and 7
MOST_BARS = 512
MOST_IN_A_BAR = 96
LONGEST = Fraction(16)
TUPLETS: dict[int, int] = {3: 2, 5: 4, 6: 4, 7: 4}
"""How many of a kind are played in the time of how many (common practice, cf. Gould, Behind Bars, Faber 2011)."""


class NotesProblem(ValueError):
    """What was sent is no music; the message says where and what is wrong."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One note or rest as written. `tuplet` is 0 or a key of `TUPLETS`; `length` is how long it sounds."""

    length: Fraction
    pitch: Pitch | None = None
    tuplet: int = 0
    tie: bool = False
    ghost: bool = False
    guess: bool = False

    @property
    def is_rest(self) -> bool:
        return self.pitch is None

    @property
    def printed(self) -> Fraction:
        """The length that its head says, without the tuplet."""
        return self.length * self.tuplet / TUPLETS[self.tuplet] if self.tuplet else self.length


Bars = tuple[tuple[Entry, ...], ...]


@dataclass(frozen=True, slots=True)
class Sounding:
    """One note as heard, ties joined. `onset` counts from the first beat of bar 1 of the solo.

    bar, at    where it is written: bar of the solo from 0, quarter notes into it.
    place      index of its first entry in that bar.
    """

    pitch: Pitch
    onset: Fraction
    duration: Fraction
    bar: int
    at: Fraction
    place: int
    ghost: bool = False
    guess: bool = False


def empty(bars: int) -> Bars:
    return ((),) * bars


def read_notes(stored: Any, bars: int) -> Bars:
    """What was stored or sent, in `bars` bars. Raises `NotesProblem`; entries beyond the last bar are refused."""
    if not isinstance(stored, Mapping) or stored.get("version") != VERSION:
        raise NotesProblem("These notes come from another version of the page. Reload it; what you wrote is kept here.")
    rows = stored.get("notes")
    if not isinstance(rows, list) or len(rows) > MOST_BARS * MOST_IN_A_BAR:
        raise NotesProblem("The notes are not a list of notes.")
    found: list[list[Entry]] = [[] for _ in range(bars)]
    filled = [Fraction(0)] * bars
    for row in rows:
        bar, at, entry = _read_row(row, bars)
        here = found[bar]
        if at != filled[bar]:
            raise NotesProblem(f"Bar {bar + 1}: entry {len(here) + 1} does not begin where the one before it ends.")
        if len(here) >= MOST_IN_A_BAR:
            raise NotesProblem(f"Bar {bar + 1} holds more than {MOST_IN_A_BAR} notes.")
        here.append(entry)
        filled[bar] += entry.length
    return tuple(tuple(bar) for bar in found)


def _read_row(row: Any, bars: int) -> tuple[int, Fraction, Entry]:
    if not isinstance(row, Mapping):
        raise NotesProblem("A note is an object with bar, at and length.")
    bar = row.get("bar")
    if type(bar) is not int or not 1 <= bar <= bars:
        raise NotesProblem(f"A note stands in bar {str(bar)[:12]}; the solo has {bars} bars.")
    length, at = _time(row.get("length"), bar), _time(row.get("at"), bar)
    if not 0 < length <= LONGEST:
        raise NotesProblem(f"Bar {bar}: a note lasts longer than nothing and at most {LONGEST} quarter notes.")
    return bar - 1, at, Entry(
        length=length, pitch=_pitch(row.get("pitch"), bar), tuplet=_tuplet(row.get("tuplet"), bar),
        tie=row.get("tie") is True and row.get("pitch") is not None, ghost=row.get("ghost") is True,
        guess=row.get("guess") is True,
    )  # fmt: skip


def _time(value: Any, bar: int) -> Fraction:
    try:
        time = Fraction(value if isinstance(value, str) and len(value) <= 20 else "")
    except (ValueError, ZeroDivisionError) as error:
        raise NotesProblem(f"Bar {bar}: {str(value)[:20]!r} is not a time such as 1/2.") from error
    if FINEST % time.denominator or not 0 <= time <= 64:
        raise NotesProblem(f"Bar {bar}: {value} is finer or longer than any written note.")
    return time


def _pitch(value: Any, bar: int) -> Pitch | None:
    if value is None:
        return None
    try:
        pitch = Pitch.parse(value if isinstance(value, str) else "")
    except SpellingError as error:
        raise NotesProblem(f"Bar {bar}: {str(value)[:12]!r} is not a pitch such as Bb4.") from error
    if abs(pitch.name.alter) > 2 or not 12 <= pitch.midi <= 120:
        raise NotesProblem(f"Bar {bar}: {pitch.text} lies beyond what is written on a staff.")
    return pitch


def _tuplet(value: Any, bar: int) -> int:
    if value is None:
        return 0
    if (
        isinstance(value, list)
        and len(value) == 2
        and TUPLETS.get(value[0] if type(value[0]) is int else 0) == value[1]
    ):
        return int(value[0])
    raise NotesProblem(
        f"Bar {bar}: a tuplet is one of {', '.join(f'{n} in the time of {m}' for n, m in TUPLETS.items())}."
    )


def write_notes(bars: Sequence[Sequence[Entry]]) -> dict[str, Any]:
    """The form that is stored."""
    rows = []
    for number, bar in enumerate(bars, 1):
        at = Fraction(0)
        for entry in bar:
            rows.append(_row(number, at, entry))
            at += entry.length
    return {"version": VERSION, "notes": rows}


def _row(bar: int, at: Fraction, entry: Entry) -> dict[str, Any]:
    row: dict[str, Any] = {"bar": bar, "at": str(at), "length": str(entry.length)}
    if entry.pitch is not None:
        row["pitch"] = entry.pitch.text
    if entry.tuplet:
        row["tuplet"] = [entry.tuplet, TUPLETS[entry.tuplet]]
    return row | {name: True for name in ("tie", "ghost", "guess") if getattr(entry, name)}


def moved(bars: Bars, interval: Interval) -> Bars:
    """Every note carried by an interval, its spelling with it."""
    if interval.semitones == 0 and interval.steps == 0:
        return bars
    return tuple(
        tuple(replace(entry, pitch=entry.pitch + interval) if entry.pitch else entry for entry in bar) for bar in bars
    )


def sounding(bars: Bars, starts: Sequence[Fraction], lengths: Sequence[Fraction]) -> tuple[Sounding, ...]:
    """The notes as heard, ties joined. `starts` and `lengths` are those of the bars by their metres.

    What is written past the end of its bar does not sound: the next bar begins on time.
    """
    found: list[Sounding] = []
    tied = False
    for number, bar in enumerate(bars):
        at, start, length = Fraction(0), starts[number], lengths[number]
        for place, entry in enumerate(bar):
            after = at + entry.length
            if entry.pitch is not None and at < length:
                duration = entry.length if after <= length else length - at
                last = found[-1] if found else None
                onset = start + at
                if tied and last and last.pitch.midi == entry.pitch.midi and last.onset + last.duration == onset:
                    found[-1] = replace(last, duration=last.duration + duration)
                else:
                    found.append(Sounding(entry.pitch, onset, duration, number, at, place, entry.ghost, entry.guess))
            tied = entry.tie
            at = after
    return tuple(found)


def count(bars: Bars) -> int:
    """Notes as written, a tied one once."""
    total, tied = 0, None
    for bar in bars:
        for entry in bar:
            total += entry.pitch is not None and entry.pitch.midi != tied
            tied = entry.pitch.midi if entry.pitch and entry.tie else None
    return total


def filled(bar: Iterable[Entry]) -> Fraction:
    """How much of a bar is written, in quarter notes."""
    return sum((entry.length for entry in bar), Fraction(0))
