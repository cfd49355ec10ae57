"""An index over a whole repertoire: where an idiom occurs in thousands of charts, without walking through them.

Every run of two and of three chords is filed under its degrees and qualities, counted from each tonic that counts there
(the key, and the goals of its chords). A search looks up the rarest run that the pattern contains and checks only
those places, so it grows with the hits and not with the charts; what it finds is kept, and kept up as charts come and
go, so that asking again only reads it out. The built-in idioms are kept from the start: they are looked for in the few
runs of each chart when it is filed.
"""

from __future__ import annotations

from array import array
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import product
from typing import Generic, TypeVar

from .idiom_pattern import CLASSES, Term
from .idiom_table import BUILT_IN, Idiom
from .idioms import Entry, Occurrence, as_occurrence, entries_of, match_at
from .reading import Analysis

Name = TypeVar("Name", bound=Hashable)
_NEAR = 3
_MOST_ENTRIES = 4096
_MOST_LOOKUPS = 4000
_MOST_OF_A_ROOT = 6

Key = tuple[tuple[int, str], ...]


class IdiomIndex(Generic[Name]):
    """Charts by any hashable name (a revision's id). Adding a name again replaces what was filed under it.

    `known` are the idioms that are kept up from the start.
    """

    def __init__(self, *, fold: bool = False, known: Iterable[Idiom] = tuple(BUILT_IN.values())) -> None:
        self.fold = fold
        self._numbers: dict[Name, int] = {}
        self._names: list[Name] = []
        self._entries: list[tuple[Entry, ...]] = []
        self._places: dict[Key, array[int]] = {}
        self._found: dict[Idiom, list[tuple[int, Occurrence]]] = {idiom: [] for idiom in known}

    def __len__(self) -> int:
        return len(self._numbers)

    def add(self, name: Name, analysis: Analysis) -> None:
        """File a chart."""
        self.discard(name)
        entries = entries_of(analysis, fold=self.fold)[:_MOST_ENTRIES]
        number = len(self._names)
        self._numbers[name] = number
        self._names.append(name)
        self._entries.append(entries)
        here: dict[Key, list[int]] = {}
        for key, place in _filed(entries):
            here.setdefault(key, []).append(number * _MOST_ENTRIES + place)
        for key, places in here.items():
            self._places.setdefault(key, array("Q")).extend(places)
        for idiom, found in self._found.items():
            found.extend(self._matches(idiom, self._candidates(idiom, here, range(number, number + 1))))

    def discard(self, name: Name) -> None:
        """Forget a chart; its places are skipped from then on."""
        number = self._numbers.pop(name, None)
        if number is not None:
            self._entries[number] = ()

    def find(self, idiom: Idiom) -> Iterator[tuple[Name, Occurrence]]:
        """Every occurrence, chart by chart in the order in which they were added."""
        if idiom not in self._found:
            every = range(len(self._entries))
            self._found[idiom] = list(self._matches(idiom, self._candidates(idiom, self._places, every)))
        for number, occurrence in self._found[idiom]:
            if self._entries[number]:
                yield self._names[number], occurrence

    def _matches(self, idiom: Idiom, starts: Iterable[tuple[int, int]]) -> Iterator[tuple[int, Occurrence]]:
        """What begins at these places, each occurrence once."""
        seen: set[tuple[int, Occurrence]] = set()
        for number, start in starts:
            entries = self._entries[number]
            hit = match_at(entries, start, idiom) if start < len(entries) else None
            if hit is None:
                continue
            occurrence = as_occurrence(entries, idiom, hit)
            if (number, occurrence) not in seen:
                seen.add((number, occurrence))
                yield number, occurrence

    def count(self, idiom: Idiom) -> int:
        """How many places."""
        return sum(1 for _ in self.find(idiom))

    def charts(self, idiom: Idiom) -> list[Name]:
        """Names of the charts that have it, each once."""
        return list(dict.fromkeys(name for name, _ in self.find(idiom)))

    def _candidates(self, idiom: Idiom, filed: Mapping[Key, Sequence[int]], numbers: range) -> list[tuple[int, int]]:
        """(chart, start) wherever the idiom might begin, by the runs `filed` of the charts with these numbers."""
        places: set[int] = set()
        for terms in idiom.pattern.readings:
            rarest = _rarest_run(terms, filed)
            if rarest is None:
                places.update(n * _MOST_ENTRIES + i for n in numbers for i in range(len(self._entries[n])))
                continue
            before, run = rarest
            for place in run:
                number, at = divmod(place, _MOST_ENTRIES)
                for start in self._starts(number, at, before):
                    places.add(number * _MOST_ENTRIES + start)
        return [divmod(place, _MOST_ENTRIES) for place in sorted(places)]

    def _starts(self, number: int, at: int, before: int) -> list[int]:
        """Where a pattern can begin whose run is at a place, `before` terms into it (a term may last longer)."""
        entries = self._entries[number]
        size = len(entries)
        if not size:
            return []
        starts: list[int] = []
        back, roots = 0, 0
        while back <= size and roots <= before:
            if back >= before:
                starts.append((at - back) % size)
            back += 1
            roots += entries[(at - back) % size].root != entries[(at - back + 1) % size].root
        return starts


@lru_cache(maxsize=4096)
def _lookups(terms: tuple[Term, ...]) -> tuple[tuple[int, tuple[Key, ...]], ...]:
    """(terms before it, every filed run it could be) for each run of three and of two terms of a pattern."""
    found: list[tuple[int, tuple[Key, ...]]] = []
    for length in (3, 2):
        for first in range(len(terms) - length + 1):
            keys = _keys(terms[first : first + length])
            if keys is not None:
                found.append((first, keys))
    return tuple(found)


def _rarest_run(terms: tuple[Term, ...], filed: Mapping[Key, Sequence[int]]) -> tuple[int, list[int]] | None:
    """(terms before the run, places of the run): the run of the pattern that is found least often; None when the
    pattern has no run that can be looked up."""
    best: tuple[int, int, tuple[Key, ...]] | None = None
    for first, keys in _lookups(terms):
        size = sum(len(filed[key]) for key in keys if key in filed)
        if size == 0:
            return first, []
        if best is None or size < best[0]:
            best = (size, first, keys)
    return None if best is None else (best[1], [place for key in best[2] for place in filed.get(key, ())])


def _filed(entries: Sequence[Entry]) -> Iterator[tuple[Key, int]]:
    """Each run with the place of its first chord: chords that follow each other, and chords of roots that do."""
    size = len(entries)
    for place in range(size):
        near = [entries[(place + shift) % size] for shift in range(-_NEAR, _NEAR + 4)]
        tonics = {entry.key for entry in near} | {entry.goal for entry in near if entry.goal is not None}
        for run in _runs(entries, place):
            if not all(entry.quality_class for entry in run):
                continue
            for tonic in tonics:
                yield tuple(((entry.root - tonic) % 12, entry.quality_class) for entry in run), place


def _runs(entries: Sequence[Entry], place: int) -> list[tuple[Entry, ...]]:
    """Runs of two and three from a place: the next chords, and any chord of the next roots (a term may last)."""
    size = len(entries)
    runs: dict[tuple[Entry, ...], None] = {}
    for second in _next_places(entries, place):
        if size >= 2:
            runs[entries[place], entries[second]] = None
        if size >= 3:
            for third in _next_places(entries, second):
                runs[entries[place], entries[second], entries[third]] = None
    return list(runs)


def _next_places(entries: Sequence[Entry], place: int) -> list[int]:
    """The place after this one, and every place of the next root."""
    size = len(entries)
    found = [(place + 1) % size]
    at = place + 1
    while at < place + size and entries[at % size].root == entries[place].root:
        at += 1
    first = at
    while (
        at < place + size
        and at - first < _MOST_OF_A_ROOT
        and entries[at % size].root == entries[first % size].root
    ):
        found.append(at % size)
        at += 1
    return list(dict.fromkeys(found))


def _keys(terms: tuple[Term, ...]) -> tuple[Key, ...] | None:
    """Every filed run that could be these terms; None when there would be too many to look up."""
    options: list[list[tuple[int, str]]] = []
    total = 1
    for term in terms:
        if any(choice.degree is None for choice in term):
            return None
        row = [
            (choice.degree, quality)
            for choice in term
            for quality in ((choice.quality_class,) if choice.quality_class else CLASSES)
            if choice.degree is not None
        ]
        options.append(list(dict.fromkeys(row)))
        total *= len(options[-1])
    return tuple(tuple(key) for key in product(*options)) if total <= _MOST_LOOKUPS else None
