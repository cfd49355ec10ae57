"""Where the chords of a bar fall: evenly, by slashes of a beat, or placed; and what to type where they do not add up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from tunes.harmony.charts.bar_marks import Found
from tunes.harmony.charts.bars import BLANK, HELD, Bar, Slot
from tunes.harmony.charts.tokens import Token
from tunes.harmony.chords.symbol import NO_CHORD, ChordSymbol
from tunes.harmony.problems import Problem

MOST_SHARED = 64


@dataclass(frozen=True, slots=True)
class Entry:
    """A chord-like token with the beats of slashes that follow it, or the beat it is placed on (from 0)."""

    symbol: ChordSymbol | None
    text: str
    token: Token
    beats: int = 1
    at: Fraction | None = None

    @property
    def is_unread(self) -> bool:
        return self.symbol is None and self.text not in (NO_CHORD, BLANK)


@dataclass(frozen=True, slots=True)
class Stretch:
    """The text of a bar from its first chord or slash to its last, and the marks typed in between."""

    start: int
    end: int
    first: Token
    signs: tuple[str, ...] = ()

    def problem(self, message: str, words: str) -> Problem:
        """A problem of the whole stretch; marks typed between the chords stand before them in the advice."""
        return Problem(message, " ".join([*self.signs, words]) if words else "", self.start, self.end)


def placed(
    bar: Bar,
    entries: list[Entry],
    leading: int,
    slashes: bool,
    before: Sequence[Bar],
    stretch: Stretch,
    found: Found,
) -> tuple[Slot, ...]:
    """The slots of a bar (`leading`: slashes before the first chord); what does not fit is told and read near it."""
    held = _held_symbol(before)
    if any(entry.at is not None for entry in entries):
        slots = _by_beat(bar, entries, leading, held, stretch, found)
        if slots is not None:
            return slots
        entries = [entry if entry.at is None else replace(entry, text=entry.token.text) for entry in entries]
        return _evenly(bar, entries, stretch, [])  # told once is enough
    if slashes or leading:
        return _by_slash(bar, entries, leading, held, before, stretch, found)
    return _evenly(bar, entries, stretch, found)


def shared(words: Sequence[str], beats: Fraction) -> str:
    """Chords so that they fill a bar: evenly where they can, else the first one longest, else over several bars.

    >>> shared(["C", "F", "G"], Fraction(4)), shared(["C", "F", "G", "A", "D"], Fraction(4))
    ('C / F G', 'C F | G / A D')
    """
    count = len(words)
    share = beats / max(count, 1)
    if not 0 < count <= MOST_SHARED:
        return ""
    if count == 1 or (share >= 1 and share.denominator <= 2):
        return " ".join(words)
    if count <= beats and beats.denominator == 1:
        return " ".join([words[0], *["/"] * int(beats - count), *words[1:]])
    halves = shared(words[: count // 2], beats), shared(words[count // 2 :], beats)
    return " | ".join(halves) if all(halves) else ""


def _held_symbol(before: Sequence[Bar]) -> ChordSymbol | None:
    return before[-1].slots[-1].symbol if before and before[-1].slots else None


def _by_beat(
    bar: Bar,
    entries: list[Entry],
    leading: int,
    held: ChordSymbol | None,
    stretch: Stretch,
    found: Found,
) -> tuple[Slot, ...] | None:
    """Chords placed with @; the first one may stand on beat 1 without it."""
    starts = [Fraction(0) if entry.at is None else entry.at for entry in entries]
    unplaced = any(entry.at is None for entry in entries[1:])
    ordered = all(a < b for a, b in pairwise(starts))
    lost = unplaced or not ordered or starts[0] < 0 or starts[-1] >= bar.beats
    if lost or (leading and starts[0] == 0):
        message = f"Places run upward from @1 and stay under @{bar.beats + 1}."
        found.append(stretch.problem(message, _in_order(bar, entries)))
    if lost:
        return None
    texts = [(entry.symbol, entry.text) for entry in entries]
    if starts[0] > 0:
        starts, texts = [Fraction(0), *starts], [(held, HELD), *texts]
    ends = [*starts[1:], bar.beats]
    return tuple(
        Slot(symbol, start, end - start, text) for (symbol, text), start, end in zip(texts, starts, ends, strict=True)
    )


def _in_order(bar: Bar, entries: list[Entry]) -> str:
    """The placed chords from left to right when their places are good, else shared over the bar."""
    places = [entry.at for entry in entries if entry.at is not None]
    good = len(set(places)) == len(entries) and all(0 <= place < bar.beats for place in places)
    if good:
        return " ".join(
            f"{entry.text}@{_beat(entry.at)}" for entry in sorted(entries, key=lambda entry: entry.at or Fraction(0))
        )
    return shared([entry.text for entry in entries], bar.beats)


def _beat(at: Fraction | None) -> str:
    place = (at or Fraction(0)) + 1
    return f"{float(place):g}" if place.denominator in (1, 2, 4, 8) else str(place)


def _by_slash(
    bar: Bar,
    entries: list[Entry],
    leading: int,
    held: ChordSymbol | None,
    before: Sequence[Bar],
    stretch: Stretch,
    found: Found,
) -> tuple[Slot, ...]:
    """One beat for every chord and every slash."""
    lengths = [(entry.symbol, entry.text, Fraction(entry.beats)) for entry in entries]
    if leading:
        lengths = [(held, HELD, Fraction(leading)), *lengths]
    total = sum((length for _, _, length in lengths), Fraction(0))
    if leading and not before and total == bar.beats:
        first = stretch.first
        silent = " ".join([NO_CHORD, *"/" * (len(first.text) - 1)])
        found.append(Problem("There is no chord before the first slash.", silent, first.start, first.end))
    elif total != bar.beats:
        found.append(
            _tell_beats(bar, entries, ["/" if before else NO_CHORD, *"/" * (leading - 1)][:leading], total, stretch)
        )
    if total < bar.beats:
        symbol, text, length = lengths[-1]
        lengths[-1] = (symbol, text, length + bar.beats - total)
    elif total > bar.beats and entries:
        share = bar.beats / len(entries)
        lengths = [(entry.symbol, entry.text, share) for entry in entries]
    elif total > bar.beats:
        lengths = [(held, HELD, bar.beats)]
    return _end_to_end(lengths)


def _tell_beats(bar: Bar, entries: list[Entry], held: list[str], total: Fraction, stretch: Stretch) -> Problem:
    """Too few beats: slashes are missing at the end. Too many: the chords share the bar. held: what begins the bar."""
    message = f"Chords and slashes make {total} beats; the bar has {bar.beats}."
    if total < bar.beats and bar.beats.denominator == 1:
        words = list(held)
        for entry in entries:
            words += [entry.text, *["/"] * (entry.beats - 1)]
        return stretch.problem(message, " ".join([*words, *["/"] * int(bar.beats - total)]))
    if not entries:
        return stretch.problem(message, " ".join(held[: max(int(bar.beats), 1)]))
    return stretch.problem(message, shared([entry.text for entry in entries], bar.beats))


def _evenly(bar: Bar, entries: list[Entry], stretch: Stretch, found: Found) -> tuple[Slot, ...]:
    count = len(entries)
    share = bar.beats / count
    lengths = [(entry.symbol, entry.text, share) for entry in entries]
    if any(entry.is_unread for entry in entries):
        return _end_to_end(lengths)  # first things first: how many chords there are is known once each is read
    words = shared([entry.text for entry in entries], bar.beats)
    if count > 1 and share < 1 and not bar.is_pickup:
        found.append(
            stretch.problem(f"{count} chords are too many for a bar of {bar.beats} beats; is a barline missing?", words)
        )
    elif share.denominator > 2:
        found.append(
            stretch.problem(f"{count} chords do not share {bar.beats} beats evenly; give each its beats.", words)
        )
    elif share.denominator == 2:
        found.append(f"each chord lasts {float(share):g} beats; place chords with slashes if that is not meant.")
    return _end_to_end(lengths)


def _end_to_end(lengths: list[tuple[ChordSymbol | None, str, Fraction]]) -> tuple[Slot, ...]:
    slots: list[Slot] = []
    start = Fraction(0)
    for symbol, text, length in lengths:
        slots.append(Slot(symbol, start, length, text))
        start += length
    return tuple(slots)
