"""The text between two barlines → bars: marks, chords, and where in the bar each chord falls."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from tunes.harmony.charts.bar_marks import Found, marked, problem_at
from tunes.harmony.charts.bars import BLANK, Bar, Metre, Slot
from tunes.harmony.charts.sharing import Entry, Stretch, placed
from tunes.harmony.charts.slips import in_words, shown, slip
from tunes.harmony.charts.tokens import Token, read_fraction, settled
from tunes.harmony.chords.reader import parse_symbol
from tunes.harmony.chords.symbol import NO_CHORD, ChordSymbol
from tunes.harmony.problems import Problem

MOST_COPIED = 16
COPY = "%"
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


def finish_cell(
    cell: Cell, before: Sequence[Bar], metre: Metre, *, number: int = 1, late: Bar | None = None
) -> tuple[list[Bar], Found]:
    """The bars that a cell makes (several for "%4") with problems and remarks.

    With `late`, only marks are read, and they are added to that bar.
    """
    found: Found = []
    bar = late or Bar((), metre, number)
    rest: list[Token] = []
    signs: list[Token] = []
    for token in _with_names_whole([*cell.marks, *cell.tokens]):
        if token.kind in _MUSIC:
            rest.append(token)
        else:
            signs.append(token)
            bar = marked(bar, token, found, first=not before and late is None)
    if late is not None:
        return [bar], found
    copies = [token for token in rest if token.kind == "copy"]
    if copies and len(rest) > 1:
        found.append(_crowded_copy(copies[0], rest, before))
    if copies and all(token.kind in ("copy", "beats") for token in rest):
        return _copied(bar, copies[0], before, found), found
    entries, slashes, leading = _entries(rest, found, _alone(rest, before, bar))
    if not entries and not leading:
        return [_empty(bar, cell, before, found)], found
    bar = _with_pickup_length(bar, entries, leading)
    slots = placed(bar, entries, leading, slashes, before, _stretch(rest, signs), found)
    return [replace(bar, slots=slots)], found


def _with_names_whole(tokens: Sequence[Token]) -> list[Token]:
    """Tokens as they are read standing alone; a "6/9" after a chord is a part of its name, not a metre."""
    whole: list[Token] = []
    for typed in tokens:
        token = settled(typed) if typed.kind in ("chord", "stray") else typed
        after_chord = bool(whole) and whole[-1].kind == "chord"
        whole.append(replace(token, kind="chord") if token.text == "6/9" and after_chord else token)
    return whole


def _stretch(rest: Sequence[Token], signs: Sequence[Token]) -> Stretch:
    """Where the chords of a bar stand, and the marks typed between them."""
    start, end = rest[0].start, rest[-1].end
    return Stretch(start, end, rest[0], tuple(sign.text for sign in signs if start < sign.start < end))


def _with_pickup_length(bar: Bar, entries: list[Entry], leading: int) -> Bar:
    """A pickup without a number lasts one beat per chord and slash."""
    if not bar.is_pickup or bar.length is not None:
        return bar
    beats = leading + sum(entry.beats for entry in entries)
    return replace(bar, length=Fraction(min(max(beats, 1), bar.metre.beats)))


# --- chords ---


@dataclass(frozen=True, slots=True)
class _Alone:
    """A word with nothing beside it in its bar: what a lone sign may have meant, and the beats there are."""

    sign: str
    beats: Fraction


def _alone(rest: Sequence[Token], before: Sequence[Bar], bar: Bar) -> _Alone | None:
    if len(rest) != 1:
        return None
    return _Alone(BLANK if _cannot_copy(1, before, bar) else COPY, bar.beats)


def _entries(tokens: list[Token], found: Found, alone: _Alone | None) -> tuple[list[Entry], bool, int]:
    """Chords in order; whether slashes were used; slashes before the first chord."""
    entries: list[Entry] = []
    slashes, leading = False, 0
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


def _spelled_out(words: Sequence[Token], made: str, found: Found) -> Entry:
    """A chord typed in words keeps them; the problem says how it is typed."""
    text = " ".join(word.text for word in words)
    found.append(Problem("A chord is one word.", made, words[0].start, words[-1].end))
    return Entry(None, text, words[0])


def _entry(token: Token, found: Found, *, alone: _Alone | None) -> Entry:
    """One chord with its place or its beats; what cannot be read keeps its whole text."""
    text, at, beats = token.text, None, 1
    if token.kind == "copy":
        return Entry(None, text, token)
    body, mark, place = text.rpartition("@")
    beat = read_fraction(place) if mark else None
    if mark and beat is None and _is_readable(body):
        found.append(problem_at(token, f"“@{shown(place)}” does not say a beat.", f"{body}@3" if alone else body))
        return Entry(None, text, token)
    if body and beat is not None:
        text, at = body, beat - 1
    bare = text.rstrip("/")
    if bare != text and _is_readable(bare):
        text, beats = bare, 1 + len(text) - len(bare)
    if token.kind == "none" or _NO_CHORD.fullmatch(text):
        return Entry(None, NO_CHORD, token, beats, at)
    if text == BLANK:
        return Entry(None, BLANK, token, beats, at)
    return Entry(_symbol(token, text, found, alone=alone), text, token, beats, at)


_NO_CHORD = re.compile(r"n\.?c\.?", re.IGNORECASE)


def _is_readable(text: str) -> bool:
    return text == BLANK or (text not in _REPEAT_LIKE and parse_symbol(text).ok)


def _symbol(token: Token, text: str, found: Found, *, alone: _Alone | None) -> ChordSymbol | None:
    """The chord of a word; one that stands alone in its bar may be meant as a repeat."""
    if text in _REPEAT_LIKE and alone:
        found.append(problem_at(token, f"“{text}” is not a chord; a repeated bar is written {COPY}.", alone.sign))
        return None
    reading = parse_symbol(text)
    if reading.problem is not None:
        found.append(_unread(token, text, reading.problem, alone=alone))
    found.extend(f"{text}: {remark}" for remark in reading.remarks)
    return reading.symbol


def _unread(token: Token, text: str, problem: Problem, *, alone: _Alone | None) -> Problem:
    """A word that is no chord, marked whole when there is something to type for it, else from where reading stopped.

    A word that nothing can be made of is a chord still to be found: what was typed stays until someone decides.
    """
    end = min(token.start + len(text), token.end)
    known = slip(text, room=alone.beats if alone else None)
    if known or problem.suggestion:
        return replace(known or problem, start=token.start, end=end)
    begin = min(token.start + problem.start, end)
    return Problem(
        f"{problem.message} A chord still to be found is written {BLANK}.", BLANK, token.start, max(begin, end)
    )


def _empty(bar: Bar, cell: Cell, before: Sequence[Bar], found: Found) -> Bar:
    if bar.is_pickup and bar.length is None:
        bar = replace(bar, length=Fraction(1))
    start = min(cell.start, cell.end)
    lone = [token.text for token in cell.tokens if token.kind == "metre"]
    if lone and not before:
        found.append(Problem("A metre before the first bar has a name in front.", f"metre: {lone[0]}", start, cell.end))
        return replace(bar, slots=(Slot(None, Fraction(0), bar.beats, BLANK),))
    advice = BLANK if _cannot_copy(1, before, bar) else COPY
    after = max((token.end for token in [*cell.marks, *cell.tokens]), default=start)
    found.append(
        Problem(f"This bar is empty: {COPY} plays the bar before again, {NO_CHORD} is silence, {BLANK} is still to be found.",
                f" {advice} ", min(after, cell.end), cell.end)
    )  # fmt: skip
    return replace(bar, slots=(Slot(None, Fraction(0), bar.beats, BLANK),))


# --- repeated bars ---


def _copied(bar: Bar, token: Token, before: Sequence[Bar], found: Found) -> list[Bar]:
    span = _span(token)
    sources = list(before[-span:]) if span else []
    problem = _cannot_copy(span, before, bar)
    if problem:
        found.append(problem_at(token, problem, BLANK if _cannot_copy(1, before, bar) else COPY))
        return [replace(bar, slots=(Slot(None, Fraction(0), bar.beats, token.text),))]
    bars = [
        Bar(source.slots, bar.metre, bar.number + index, copied=True, copy_span=span, copy_index=index)
        for index, source in enumerate(sources)
    ]
    bars[0] = replace(bars[0], endings=bar.endings, segno=bar.segno, coda=bar.coda, comment=bar.comment)
    bars[-1] = replace(bars[-1], to_coda=bar.to_coda, fine=bar.fine, jump=bar.jump, jump_to=bar.jump_to)
    return bars


def _span(token: Token) -> int:
    digits = token.text.lstrip("%")
    return int(digits) if digits else len(token.text)


def _crowded_copy(copy: Token, rest: Sequence[Token], before: Sequence[Bar]) -> Problem:
    """A repeated bar with something else in it: only slashes, which say nothing more, or a barline that is missing."""
    message = "A repeated bar stands alone between its barlines."
    if all(token.kind in ("copy", "beats") for token in rest):
        return Problem(message, copy.text, rest[0].start, rest[-1].end)
    if not before and copy is rest[0]:
        return problem_at(copy, f"{message} There is no bar before this one to repeat.", BLANK)
    first, last = copy is rest[0], copy is rest[-1]
    return problem_at(copy, message, f"{'' if first else '| '}{copy.text}{'' if last else ' |'}")


def _cannot_copy(span: int, before: Sequence[Bar], bar: Bar) -> str:
    """Why a bar cannot repeat the `span` bars before it; "" when it can."""
    sources = before[-span:] if span else []
    if not 1 <= span <= MOST_COPIED:
        return f"% repeats 1 to {MOST_COPIED} bars."
    if len(sources) < span:
        return "There is no bar before this one to repeat." if span == 1 else f"There are not {span} bars to repeat."
    if any(source.is_pickup for source in sources):
        return "A pickup bar cannot be repeated with %."
    if any(source.beats != bar.beats for source in sources):
        return "The bar before has another length, so % cannot repeat it."
    return ""
