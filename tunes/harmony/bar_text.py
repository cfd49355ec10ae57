"""The text between two barlines → bars: marks, chords, and where in the bar each chord falls."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise

from .bar_marks import Found, marked, problem_at
from .bars import BLANK, HELD, Bar, Metre, Slot
from .chart_tokens import Token, read_fraction, settled
from .chord_symbol import NO_CHORD, ChordSymbol
from .problems import Problem
from .slips import in_words, slip
from .symbol_text import parse_symbol

MOST_COPIED = 16
_REPEAT_LIKE = frozenset({"-", "--", "''", "./.", "x", "X", "*", "=", "~", "."})
_MUSIC = frozenset({"chord", "beats", "copy", "none", "stray"})


@dataclass
class Cell:
    """What stands between two barlines."""

    start: int
    end: int = 0
    tokens: list[Token] = field(default_factory=list)
    marks: list[Token] = field(default_factory=list)
    used: bool = False

    @property
    def has_music(self) -> bool:
        return any(token.kind in _MUSIC for token in self.tokens)


@dataclass(frozen=True, slots=True)
class _Entry:
    """A chord-like token with the beats of slashes that follow it, or the beat it is placed on."""

    symbol: ChordSymbol | None
    text: str
    token: Token
    beats: int = 1
    at: Fraction | None = None


def finish_cell(
    cell: Cell, before: Sequence[Bar], metre: Metre, *, number: int = 1, late: Bar | None = None
) -> tuple[list[Bar], Found]:
    """The bars that a cell makes (several for "%4") with problems and remarks.

    With `late`, only marks are read, and they are added to that bar.
    """
    found: Found = []
    bar = late or Bar((), metre, number)
    rest: list[Token] = []
    for typed in [*cell.marks, *cell.tokens]:
        token = settled(typed) if typed.kind in ("chord", "stray") else typed
        if token.kind in _MUSIC:
            rest.append(token)
        else:
            bar = marked(bar, token, found, first=not before and late is None)
    if late is not None:
        return [bar], found
    copies = [token for token in rest if token.kind == "copy"]
    if copies and len(rest) > 1:
        found.append(problem_at(copies[0], "A repeated bar stands alone between its barlines.", "| % |"))
    if copies and all(token.kind in ("copy", "beats") for token in rest):
        return _copied(bar, copies[0], before, found), found
    entries, slashes, leading = _entries(rest, found)
    if not entries and not leading:
        return [_empty(bar, cell, found)], found
    bar = _with_pickup_length(bar, entries, leading)
    slots = _placed(bar, entries, leading, slashes, before, found)
    return [replace(bar, slots=slots)], found


def _with_pickup_length(bar: Bar, entries: list[_Entry], leading: int) -> Bar:
    """A pickup without a number lasts one beat per chord and slash."""
    if not bar.is_pickup or bar.length is not None:
        return bar
    beats = leading + sum(entry.beats for entry in entries)
    return replace(bar, length=Fraction(min(max(beats, 1), bar.metre.beats)))


# --- chords ---


def _entries(tokens: list[Token], found: Found) -> tuple[list[_Entry], bool, int]:
    """Chords in order; whether slashes were used; slashes before the first chord."""
    entries: list[_Entry] = []
    slashes, leading = False, 0
    alone = sum(token.kind != "beats" for token in tokens) == 1
    place = 0
    while place < len(tokens):
        token = tokens[place]
        spelled = in_words(tokens, place)
        if spelled:
            entries.append(_spelled_out(tokens[place : place + spelled[0]], spelled[1], found))
            place += spelled[0]
            continue
        place += 1
        if token.kind == "beats":
            slashes = True
            if entries:
                entries[-1] = replace(entries[-1], beats=entries[-1].beats + len(token.text))
            else:
                leading += len(token.text)
            continue
        entry = _entry(token, found, alone=alone)
        slashes = slashes or entry.beats > 1
        entries.append(entry)
    return entries, slashes, leading


def _spelled_out(words: Sequence[Token], made: str, found: Found) -> _Entry:
    """A chord typed in words keeps them; the problem says how it is typed."""
    text = " ".join(word.text for word in words)
    found.append(Problem("A chord is one word.", made, words[0].start, words[-1].end))
    return _Entry(None, text, words[0])


def _entry(token: Token, found: Found, *, alone: bool) -> _Entry:
    """One chord with its place or its beats; what cannot be read keeps its whole text."""
    text, at, beats = token.text, None, 1
    if token.kind == "copy":
        return _Entry(None, text, token)
    body, mark, place = text.rpartition("@")
    if mark and _is_readable(body):
        at = read_fraction(place)
        if at is None:
            found.append(problem_at(token, f"“@{place}” does not say a beat.", f"{body}@3"))
            return _Entry(None, text, token)
        text, at = body, at - 1
    bare = text.rstrip("/")
    if bare != text and _is_readable(bare):
        text, beats = bare, 1 + len(text) - len(bare)
    if token.kind == "none" or _NO_CHORD.fullmatch(text):
        return _Entry(None, NO_CHORD, token, beats, at)
    if text == BLANK:
        return _Entry(None, BLANK, token, beats, at)
    return _Entry(_symbol(token, text, found, alone=alone), text, token, beats, at)


_NO_CHORD = re.compile(r"n\.?c\.?", re.IGNORECASE)


def _is_readable(text: str) -> bool:
    return text == BLANK or (text not in _REPEAT_LIKE and parse_symbol(text).ok)


def _symbol(token: Token, text: str, found: Found, *, alone: bool) -> ChordSymbol | None:
    """The chord of a word; `alone` when nothing else stands in the bar, so that it may be meant as a repeat."""
    if text in _REPEAT_LIKE and alone:
        found.append(problem_at(token, f"“{text}” is not a chord; a repeated bar is written %.", "%"))
        return None
    reading = parse_symbol(text)
    if reading.problem is not None:
        problem = (slip(text) or reading.problem).at(offset=token.start)
        found.append(replace(problem, start=min(problem.start, token.end), end=min(problem.end, token.end)))
    found.extend(f"{text}: {remark}" for remark in reading.remarks)
    return reading.symbol


def _empty(bar: Bar, cell: Cell, found: Found) -> Bar:
    if bar.is_pickup and bar.length is None:
        bar = replace(bar, length=Fraction(1))
    start = min(cell.start, cell.end)
    lone = [token.text for token in cell.tokens if token.kind == "metre"]
    if lone:
        found.append(Problem("A metre before the first bar has a name in front.", f"metre: {lone[0]}", start, cell.end))
        return replace(bar, slots=(Slot(None, Fraction(0), bar.beats, BLANK),))
    found.append(Problem("This bar is empty.", "% for the bar before, or N.C., or ?", start, cell.end))
    return replace(bar, slots=(Slot(None, Fraction(0), bar.beats, BLANK),))


# --- repeated bars ---


def _copied(bar: Bar, token: Token, before: Sequence[Bar], found: Found) -> list[Bar]:
    digits = token.text.lstrip("%")
    span = int(digits) if digits else len(token.text)
    sources = list(before[-span:]) if span else []
    problem = _copy_problem(span, sources, bar)
    if problem:
        found.append(problem_at(token, problem, NO_CHORD))
        return [replace(bar, slots=(Slot(None, Fraction(0), bar.beats, token.text),))]
    bars = [
        Bar(source.slots, bar.metre, bar.number + index, copied=True, copy_span=span, copy_index=index)
        for index, source in enumerate(sources)
    ]
    bars[0] = replace(bars[0], endings=bar.endings, segno=bar.segno, coda=bar.coda, comment=bar.comment)
    bars[-1] = replace(bars[-1], to_coda=bar.to_coda, fine=bar.fine, jump=bar.jump, jump_to=bar.jump_to)
    return bars


def _copy_problem(span: int, sources: list[Bar], bar: Bar) -> str:
    if not 1 <= span <= MOST_COPIED:
        return f"% repeats 1 to {MOST_COPIED} bars."
    if len(sources) < span:
        return (
            "There is no bar before this one to repeat."
            if span == 1
            else f"There are not {span} bars to repeat."
        )
    if any(source.is_pickup for source in sources):
        return "A pickup bar cannot be repeated with %."
    if any(source.beats != bar.beats for source in sources):
        return "The bar before has another length, so % cannot repeat it."
    return ""


# --- where chords fall ---


def _placed(
    bar: Bar, entries: list[_Entry], leading: int, slashes: bool, before: Sequence[Bar], found: Found
) -> tuple[Slot, ...]:
    held = _held_symbol(before)
    if any(entry.at is not None for entry in entries):
        slots = _by_beat(bar, entries, leading, held, found)
        if slots is not None:
            return slots
        entries = [entry if entry.at is None else replace(entry, text=entry.token.text) for entry in entries]
        leading, slashes = 0, False
    if slashes or leading:
        return _by_slash(bar, entries, leading, held, before, found)
    return _evenly(bar, entries, found)


def _held_symbol(before: Sequence[Bar]) -> ChordSymbol | None:
    return before[-1].slots[-1].symbol if before and before[-1].slots else None


def _by_beat(
    bar: Bar, entries: list[_Entry], leading: int, held: ChordSymbol | None, found: Found
) -> tuple[Slot, ...] | None:
    """Chords placed with @; the first one may stand on beat 1 without it."""
    starts = [Fraction(0) if entry.at is None else entry.at for entry in entries]
    unplaced = [entry for entry in entries[1:] if entry.at is None]
    ordered = all(a < b for a, b in pairwise(starts))
    if unplaced or not ordered or starts[0] < 0 or starts[-1] >= bar.beats or (leading and starts[0] == 0):
        wrong = (unplaced or entries)[0]
        found.append(
            problem_at(
                wrong.token, f"Places run upward from @1 and stay under @{bar.beats + 1}.", f"{wrong.text}@3"
            )
        )
        return None
    texts = [(entry.symbol, entry.text) for entry in entries]
    if starts[0] > 0:
        starts, texts = [Fraction(0), *starts], [(held, HELD), *texts]
    ends = [*starts[1:], bar.beats]
    return tuple(
        Slot(symbol, start, end - start, text)
        for (symbol, text), start, end in zip(texts, starts, ends, strict=True)
    )


def _by_slash(
    bar: Bar,
    entries: list[_Entry],
    leading: int,
    held: ChordSymbol | None,
    before: Sequence[Bar],
    found: Found,
) -> tuple[Slot, ...]:
    """One beat for every chord and every slash."""
    lengths = [(entry.symbol, entry.text, Fraction(entry.beats)) for entry in entries]
    if leading:
        if not before:
            token = entries[0].token if entries else Token("beats", HELD, 0)
            found.append(problem_at(token, "There is no chord before the first slash.", NO_CHORD))
        lengths = [(held, HELD, Fraction(leading)), *lengths]
    total = sum((length for _, _, length in lengths), Fraction(0))
    if total != bar.beats:
        _tell_beats(bar, lengths, total, entries, found)
        if total < bar.beats:
            symbol, text, length = lengths[-1]
            lengths[-1] = (symbol, text, length + bar.beats - total)
        elif entries:
            share = bar.beats / len(entries)
            lengths = [(entry.symbol, entry.text, share) for entry in entries]
        else:
            lengths = [(held, HELD, bar.beats)]
    return _end_to_end(lengths)


def _tell_beats(
    bar: Bar,
    lengths: list[tuple[ChordSymbol | None, str, Fraction]],
    total: Fraction,
    entries: list[_Entry],
    found: Found,
) -> None:
    token = entries[-1].token if entries else Token("beats", HELD, 0)
    words = " ".join(" ".join([text, *["/"] * (int(length) - 1)]) for _, text, length in lengths)
    missing = int(bar.beats - total) if total < bar.beats else 0
    advice = f"| {words} {' '.join(['/'] * missing)} |" if missing else ""
    found.append(problem_at(token, f"Chords and slashes make {total} beats; the bar has {bar.beats}.", advice))


def _evenly(bar: Bar, entries: list[_Entry], found: Found) -> tuple[Slot, ...]:
    count = len(entries)
    share = bar.beats / count
    unread = any(entry.symbol is None and entry.text not in (NO_CHORD, BLANK) for entry in entries)
    if unread:  # first things first: how many chords there are is not known before each is read
        return _end_to_end([(entry.symbol, entry.text, share) for entry in entries])
    if count > 1 and share < 1 and not bar.is_pickup:
        found.append(
            problem_at(entries[-1].token, f"{count} chords are too many for a bar of {bar.beats} beats.",
                     "a bar for each half")
        )  # fmt: skip
    elif share.denominator > 2:
        found.append(
            problem_at(entries[-1].token, f"{count} chords do not share {bar.beats} beats evenly; give each its beats.",
                     f"| {_uneven_advice(bar, entries)} |")
        )  # fmt: skip
    elif share.denominator == 2:
        found.append(
            f"each chord lasts {float(share):g} beats; place chords with slashes if that is not meant."
        )
    return _end_to_end([(entry.symbol, entry.text, share) for entry in entries])


def _uneven_advice(bar: Bar, entries: list[_Entry]) -> str:
    """The first chord takes what is left over when the others have a beat each."""
    spare = max(int(bar.beats) - len(entries), 0)
    return " ".join([entries[0].text, *["/"] * spare, *(entry.text for entry in entries[1:])])


def _end_to_end(lengths: list[tuple[ChordSymbol | None, str, Fraction]]) -> tuple[Slot, ...]:
    slots: list[Slot] = []
    start = Fraction(0)
    for symbol, text, length in lengths:
        slots.append(Slot(symbol, start, length, text))
        start += length
    return tuple(slots)
