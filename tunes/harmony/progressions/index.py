"""An index over a whole repertoire: where an idiom occurs in thousands of charts, without walking through them.

Two kinds of lists are kept, each of plain numbers (a chart's number and a place in it):

- runs of two and three chords counted from a tonic that the analysis gives them, where each chord stands on a root of its
  own. A pattern of two or three classes is answered from these alone; nothing is compared.
- moves: neighbouring chords by their classes and the distance of their roots, in any key. A longer pattern, and places
  where a term lasts over several chords, are looked up by the rarest move that the pattern contains, and only those
  places are compared.

So a search grows with what it finds, not with the charts. Nothing is remembered between searches.
"""

from __future__ import annotations

import re
from array import array
from collections.abc import Container, Hashable, Iterable, Iterator, Sequence
from itertools import pairwise, product
from math import prod
from typing import Generic, TypeVar, overload

from tunes.harmony.progressions.idioms import Occurrence, as_occurrence, entries_of
from tunes.harmony.progressions.match import (
    Line,
    closes,
    expression,
    fitting_chords,
    is_heading,
    is_home,
    match_at,
    match_from,
    tonics,
    with_lead,
)
from tunes.harmony.progressions.pattern import CLASSES, Choice, Pattern, Term
from tunes.harmony.progressions.table import Idiom
from tunes.harmony.readings.reading import Analysis

Name = TypeVar("Name", bound=Hashable)
_MOST_ENTRIES = 4096
_MOST_LOOKUPS = 4000
_FEWEST_GONE = 64
_BASSES_OF_A_MOVE = 3
_PARTS_OF_A_MOVE = {2: 4, 3: 6}  # length of the keys of moves over two and three chords

Key = tuple[int | str | bool, ...]


class Lists:
    """Rows (chart number * _MOST_ENTRIES + place) by what stands there."""

    def __init__(self) -> None:
        self.runs: dict[Key, array[int]] = {}
        self.moves: dict[Key, array[int]] = {}
        self.uneven: dict[Key, array[int]] = {}

    def file(self, number: int, line: Line) -> None:
        for place in range(line.size if line.size > 1 else 0):
            row = number * _MOST_ENTRIES + place
            for key in _runs(line, place):
                self.runs.setdefault(key, array("Q")).append(row)
            for key, even in _moves(line, place):
                self.moves.setdefault(key, array("Q")).append(row)
                if not even:
                    self.uneven.setdefault(key, array("Q")).append(row)


class Found(Sequence[tuple[Name, Occurrence]], Generic[Name]):
    """What a search found: rows of numbers, each built into (name, occurrence) when it is read. Its length is known.

    It keeps to the charts as they were when it was made, whatever the index takes in or gives up since.
    """

    def __init__(self, names: Sequence[Name], lines: Sequence[Line], idiom: Idiom, rows: Sequence[int]) -> None:
        self._names, self._lines, self._idiom, self._rows = names, lines, idiom, rows

    def __len__(self) -> int:
        return len(self._rows)

    @overload
    def __getitem__(self, index: int) -> tuple[Name, Occurrence]: ...

    @overload
    def __getitem__(self, index: slice) -> Found[Name]: ...

    def __getitem__(self, index: int | slice) -> tuple[Name, Occurrence] | Found[Name]:
        if isinstance(index, slice):
            return Found(self._names, self._lines, self._idiom, self._rows[index])
        number, start = divmod(self._rows[index], _MOST_ENTRIES)
        line = self._lines[number]
        hit = match_at(line, start, self._idiom.pattern)
        if hit is None:
            raise LookupError(f"row {index} of {self._idiom.id!r} does not match its chart")
        return self._names[number], as_occurrence(line, self._idiom, hit)

    def spots(self) -> Iterator[tuple[Name, int]]:
        """(chart, event where it begins) of every occurrence, without building it."""
        names, lines = self._names, self._lines
        for row in self._rows:
            number, start = divmod(row, _MOST_ENTRIES)
            yield names[number], lines[number].entries[start].first

    def names(self) -> list[Name]:
        """The charts, each once, in the order of the rows. Builds no occurrence."""
        return [self._names[number] for number in dict.fromkeys(row // _MOST_ENTRIES for row in self._rows)]

    def within(self, wanted: Iterable[Name]) -> Found[Name]:
        """Only the places in these charts, in this order of the charts. Builds no occurrence."""
        rows_of: dict[Name, list[int]] = {}
        for row in self._rows:
            rows_of.setdefault(self._names[row // _MOST_ENTRIES], []).append(row)
        rows = [row for name in dict.fromkeys(wanted) for row in rows_of.get(name, ())]
        return Found(self._names, self._lines, self._idiom, rows)


class IdiomIndex(Generic[Name]):
    """Charts by any hashable name (a revision's id). Adding a name again replaces what was filed under it."""

    def __init__(self, *, fold: bool = False) -> None:
        self.fold = fold
        self._numbers: dict[Name, int] = {}
        self._names: list[Name] = []
        self._lines: list[Line] = []
        self._lists = Lists()
        self._gone: set[int] = set()

    def __len__(self) -> int:
        return len(self._numbers)

    def add(self, name: Name, analysis: Analysis) -> None:
        """File a chart."""
        self.discard(name)
        self._file(name, Line(entries_of(analysis, fold=self.fold)[:_MOST_ENTRIES]))

    def _file(self, name: Name, line: Line) -> None:
        number = len(self._names)
        self._numbers[name] = number
        self._names.append(name)
        self._lines.append(line)
        self._lists.file(number, line)

    def discard(self, name: Name) -> None:
        """Forget a chart. Its rows are skipped; when half of the charts are gone the rest is filed anew."""
        number = self._numbers.pop(name, None)
        if number is None:
            return
        self._gone.add(number)
        if len(self._gone) > max(len(self), _FEWEST_GONE):
            kept = [(name, self._lines[number]) for name, number in self._numbers.items()]
            self._numbers, self._names, self._lines, self._lists, self._gone = {}, [], [], Lists(), set()
            for name, line in kept:
                self._file(name, line)

    def find(self, idiom: Idiom) -> Found[Name]:
        """Every occurrence, chart by chart in the order in which they were added, built only when it is read."""
        rows: list[int] = []
        compared: dict[int, None] = {}
        for terms in idiom.pattern.readings:
            exact = _run_keys(terms, idiom.pattern)
            if exact is not None:
                rows.extend(self._runs(terms, exact, with_lead(terms, idiom.pattern)))
            for row in self._compared(terms, idiom.pattern, exact is not None, compared):
                compared[row] = None
        rows.extend(compared)
        rows.sort()  # the lists are in order: what is sorted is only how they interlock
        live = list(dict.fromkeys(rows))
        if self._gone:
            live = [row for row in live if row // _MOST_ENTRIES not in self._gone]
        return Found(self._names, self._lines, idiom, array("Q", live))

    def count(self, idiom: Idiom) -> int:
        """How many places."""
        return len(self.find(idiom))

    def charts(self, idiom: Idiom) -> list[Name]:
        """Names of the charts that have it, each once."""
        return self.find(idiom).names()

    def _runs(self, terms: tuple[Term, ...], keys: list[Key], longer: Sequence[tuple[Term, ...]]) -> Iterator[int]:
        """Rows of the runs under some keys; where a term names a chord exactly, those that have that chord; not those
        that are the rest of a longer reading."""
        exact = any(choice.quality is not None for term in terms for choice in term)
        for key in keys:
            rows: Iterable[int] = self._lists.runs.get(key, ())
            wanted = _exact_qualities(terms, key) if exact else None
            if wanted is not None:
                rows = self._with_qualities(rows, wanted)
            for reading in longer:
                rows = self._not_led_into(rows, reading, int(key[2]))
            yield from rows

    def _not_led_into(self, rows: Iterable[int], longer: tuple[Term, ...], degree: int) -> Iterator[int]:
        """Rows, of runs that begin on a degree, whose chord before does not fit the term that leads into them."""
        lines, fitting = self._lines, fitting_chords(longer[0])
        for row in rows:
            number, place = divmod(row, _MOST_ENTRIES)
            entries = lines[number].entries
            here, before = entries[place], entries[place - 1]
            chords = fitting.get((before.root - here.root + degree) % 12, ()) if before.quality_class else ()
            if len(entries) < len(longer) or (before.quality, before.bass) not in chords:
                yield row

    def _with_qualities(self, rows: Iterable[int], wanted: list[tuple[int, frozenset[str]]]) -> Iterator[int]:
        lines = self._lines
        for row in rows:
            number, place = divmod(row, _MOST_ENTRIES)
            entries = lines[number].entries
            size = len(entries)
            for shift, qualities in wanted:
                if entries[(place + shift) % size].quality not in qualities:
                    break
            else:
                yield row

    def _compared(
        self, terms: tuple[Term, ...], pattern: Pattern, uneven_only: bool, known: Container[int]
    ) -> Iterator[int]:
        """Rows where one reading of the pattern begins, among those that have its rarest move; not those that are known."""
        before, places = self._rarest_move(terms, uneven_only)
        degree = _only_degree(terms[0])
        sounds = _Sounds(terms)
        for place in places:
            number, at = divmod(place, _MOST_ENTRIES)
            line = self._lines[number]
            for start in _starts(line, at, before) if line.size else ():
                if number * _MOST_ENTRIES + start in known:
                    continue
                entry = line.entries[start]
                for tonic in tonics(terms, entry) if degree is None else ((entry.root - degree) % 12,):
                    if (
                        sounds[tonic].match(line.text, start)
                        and match_from(line, start, terms, tonic, pattern) is not None
                    ):
                        yield number * _MOST_ENTRIES + start
                        break

    def _rarest_move(self, terms: tuple[Term, ...], uneven_only: bool) -> tuple[int, Iterable[int]]:
        """(terms before the move, rows of its first chord): the move of the pattern that is found least often."""
        lists = self._lists.uneven if uneven_only else self._lists.moves
        best: tuple[int, int, list[Key]] | None = None
        for first, keys in _move_keys(terms):
            if uneven_only and len(keys[0]) != _PARTS_OF_A_MOVE[len(terms)]:
                continue  # only the move that spans the whole reading tells whether it is a run
            size = sum(len(lists[key]) for key in keys if key in lists)
            if best is None or size < best[0]:
                best = (size, first, keys)
        if best is None:
            return 0, (n * _MOST_ENTRIES + i for n, line in enumerate(self._lines) for i in range(line.size))
        return best[1], (row for key in best[2] for row in lists.get(key, ()))


class _Sounds(dict[int, re.Pattern[str]]):
    """The expressions of one reading by their tonic, for one search: most places are ruled out by them alone."""

    def __init__(self, terms: tuple[Term, ...]) -> None:
        self._terms = terms

    def __missing__(self, tonic: int) -> re.Pattern[str]:
        self[tonic] = found = expression(self._terms, tonic)
        return found


def _only_degree(term: Term) -> int | None:
    degrees = {choice.degree for choice in term}
    return next(iter(degrees)) if len(degrees) == 1 else None


def _starts(line: Line, at: int, before: int) -> list[int]:
    """Where a pattern can begin whose move is at a place, `before` terms into it (a term may last longer)."""
    starts: list[int] = []
    back = roots = 0
    while back <= 2 * line.size and roots <= before:
        if back >= before:
            starts.append((at - back) % line.size)
        back += 1
        roots += line.at(at - back).root != line.at(at - back + 1).root
    return starts


def _runs(line: Line, place: int) -> Iterator[Key]:
    """Keys of the runs of two and three from a place, if each chord has a root of its own, for each tonic they serve."""
    for length in (2, 3):
        run = [line.at(place + shift) for shift in range(-1, length)]
        if length > line.size or any(a.root == b.root for a, b in pairwise(run)):
            return
        run, last = run[1:], place + length - 1
        if not all(entry.quality_class for entry in run):
            return
        centres = {entry.root for entry in run if entry.centre}
        for tonic in {run[-1].key} | centres | {entry.goal for entry in run if entry.goal is not None}:
            home = is_home(line, place, last, tonic)
            if home or is_heading(line, place, last, tonic):
                chords = [part for entry in run for part in ((entry.root - tonic) % 12, entry.quality_class)]
                yield (home, closes(line, last, tonic), *chords)


def _run_keys(terms: tuple[Term, ...], pattern: Pattern) -> list[Key] | None:
    """The runs that answer a reading; None when it is too long, or asks for more than chords on new roots."""
    if (
        pattern.by_sound
        or len(terms) not in (2, 3)
        or any(choice.degree is None or choice.bass is not None for term in terms for choice in term)
    ):
        return None
    options = [[pair for choice in term for pair in _sounds(choice)] for term in terms]
    if not _on_new_roots(*options) or prod(map(len, options)) > _MOST_LOOKUPS:
        return None
    homes = (True,) if pattern.home_only else (False,) if pattern.away_only else (True, False)
    ends = (False,) if pattern.left_open else (True, False)
    chords = [tuple(part for pair in row for part in pair) for row in product(*options)]
    return [(home, end, *row) for home in homes for end in ends for row in dict.fromkeys(chords)]


def _exact_qualities(terms: tuple[Term, ...], key: Key) -> list[tuple[int, frozenset[str]]] | None:
    """(place in the run, qualities allowed there) where the terms narrow the classes of a key; None: they do not."""
    wanted: list[tuple[int, frozenset[str]]] = []
    for place, term in enumerate(terms):
        degree, name = key[2 + 2 * place], key[3 + 2 * place]
        fitting = [c for c in term if c.degree == degree and c.quality_class in (None, name)]
        if all(choice.quality is not None for choice in fitting):
            wanted.append((place, frozenset(choice.quality for choice in fitting if choice.quality is not None)))
    return wanted or None


def _sounds(choice: Choice) -> list[tuple[int, str]]:
    """Degree and class of every chord that a choice allows; a choice without a degree has none."""
    if choice.degree is None:
        return []
    return [(choice.degree, name) for name in ((choice.quality_class,) if choice.quality_class else CLASSES)]


def _moves(line: Line, place: int) -> Iterator[tuple[Key, bool]]:
    """Keys of the moves from a place: to the next chord; over the next root to the one after; over any one chord.

    The bool: whether all roots concerned differ, so that `_runs` has filed the same run.
    """
    here, following = line.at(place), line.at(place + 1)
    apart = line.at(place - 1).root != here.root != following.root
    yield ("to", here.quality_class, (following.root - here.root) % 12, following.quality_class), apart
    after = place + 2
    while True:
        there = line.at(after)
        yield ("over", here.quality_class, (there.root - here.root) % 12, there.quality_class), False
        if there.root != following.root or after > place + line.size:
            break
        after += 1
    if here.root != following.root != there.root:
        steps = ((following.root - here.root) % 12, (there.root - following.root) % 12)
        even = apart and after == place + 2 and line.size > 2
        yield ("by", here.quality_class, steps[0], following.quality_class, steps[1], there.quality_class), even
    low = _bass_steps(line, place)
    if low is not None:
        yield low, False


def _bass_steps(line: Line, place: int) -> Key | None:
    """The key of the next two moves of the bass from a place, whatever stands over it."""
    basses: list[int] = []
    for shift in range(2 * line.size):
        entry = line.at(place + shift)
        bass = (entry.root + entry.bass) % 12
        if not basses or basses[-1] != bass:
            basses.append(bass)
        if len(basses) == _BASSES_OF_A_MOVE:
            return ("low", (basses[1] - basses[0]) % 12, (basses[2] - basses[1]) % 12)
    return None


def _move_keys(terms: tuple[Term, ...]) -> Iterator[tuple[int, list[Key]]]:
    """(terms before it, keys) of every move that a reading contains, as `_moves` files them."""
    yield from _bass_keys(terms)
    options = [None if any(c.degree is None for c in term) else [p for c in term for p in _sounds(c)] for term in terms]
    for first, here in enumerate(options):
        row = options[first : first + 3]
        if here is None or len(row) < 2:
            continue
        following, there = row[1], row[2] if len(row) > 2 else None
        if following is not None and len(here) * len(following) <= _MOST_LOOKUPS:
            yield first, list({("to", a, (e - d) % 12, b) for (d, a), (e, b) in product(here, following)})
        if there is None or len(row) < 3:
            continue
        if following is None:
            yield first, list({("over", a, (e - d) % 12, b) for (d, a), (e, b) in product(here, there)})
        elif len(here) * len(following) * len(there) <= _MOST_LOOKUPS and _on_new_roots(here, following, there):
            yield first, list({
                ("by", a, (e - d) % 12, b, (f - e) % 12, c)
                for (d, a), (e, b), (f, c) in product(here, following, there)
            })  # fmt: skip


def _bass_keys(terms: tuple[Term, ...]) -> Iterator[tuple[int, list[Key]]]:
    """The moves of the bass that a reading names, as `_bass_steps` gives them."""
    for first in range(len(terms) - _BASSES_OF_A_MOVE + 1):
        rows = [{choice.bass for choice in term} for term in terms[first : first + _BASSES_OF_A_MOVE]]
        if all(None not in row for row in rows) and not any(a & b for a, b in pairwise(rows)):
            steps = product(*([bass for bass in row if bass is not None] for row in rows))
            yield first, list({("low", (b - a) % 12, (c - b) % 12) for a, b, c in steps})


def _on_new_roots(*rows: list[tuple[int, str]]) -> bool:
    """Whether no degree of a term is also one of the next term."""
    degrees = [{degree for degree, _ in row} for row in rows]
    return all(not a & b for a, b in pairwise(degrees))
