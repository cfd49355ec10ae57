"""An index over a whole repertoire: where an idiom occurs in thousands of charts, without walking through them.

Every run of two and of three different roots is filed under its degrees and qualities, counted from each tonic that
counts there (the key, and the goals of its chords). A search looks up the rarest run that a pattern contains and checks
only those places, so it grows with the hits and not with the charts.
"""

from __future__ import annotations

from array import array
from collections.abc import Hashable, Iterator, Sequence
from itertools import product
from typing import Generic, TypeVar

from .idiom_pattern import CLASSES, Term
from .idiom_table import Idiom
from .idioms import Entry, Occurrence, as_occurrence, entries_of, match_at
from .reading import Analysis

Name = TypeVar("Name", bound=Hashable)
_NEAR = 3
_MOST_ENTRIES = 4096
_MOST_LOOKUPS = 4000

Key = tuple[tuple[int, str], ...]


class IdiomIndex(Generic[Name]):
    """Charts by any hashable name (a revision's id). Adding a name again replaces what was filed under it."""

    def __init__(self, *, fold: bool = False) -> None:
        self.fold = fold
        self._numbers: dict[Name, int] = {}
        self._names: list[Name] = []
        self._entries: list[tuple[Entry, ...]] = []
        self._places: dict[Key, array[int]] = {}

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
        for key, place in _filed(entries):
            self._places.setdefault(key, array("Q")).append(number * _MOST_ENTRIES + place)

    def discard(self, name: Name) -> None:
        """Forget a chart; its places are skipped from then on."""
        number = self._numbers.pop(name, None)
        if number is not None:
            self._entries[number] = ()

    def find(self, idiom: Idiom) -> Iterator[tuple[Name, Occurrence]]:
        """Every occurrence, chart by chart in the order in which they were added."""
        seen: set[tuple[int, Occurrence]] = set()
        for number, start in self._candidates(idiom):
            entries = self._entries[number]
            if start >= len(entries):
                continue
            hit = match_at(entries, start, idiom)
            if hit is None:
                continue
            occurrence = as_occurrence(entries, idiom, hit)
            if (number, occurrence) not in seen:
                seen.add((number, occurrence))
                yield self._names[number], occurrence

    def count(self, idiom: Idiom) -> int:
        """How many places."""
        return sum(1 for _ in self.find(idiom))

    def charts(self, idiom: Idiom) -> list[Name]:
        """Names of the charts that have it, each once."""
        return list(dict.fromkeys(name for name, _ in self.find(idiom)))

    def _candidates(self, idiom: Idiom) -> list[tuple[int, int]]:
        places: set[int] = set()
        for terms in idiom.pattern.readings:
            before, run = self._rarest_run(terms)
            for place in run:
                number, at = divmod(place, _MOST_ENTRIES)
                for start in self._starts(number, at, before):
                    places.add(number * _MOST_ENTRIES + start)
        return [divmod(place, _MOST_ENTRIES) for place in sorted(places)]

    def _starts(self, number: int, at: int, before: int) -> list[int]:
        """Where a pattern can begin whose run is at a place, `before` terms into it (a term may last longer)."""
        size = len(self._entries[number])
        if not size:
            return []
        if not before:
            return [at % size]
        return [(at - back) % size for back in range(before, min(before * 2, size) + 1)]

    def _rarest_run(self, terms: tuple[Term, ...]) -> tuple[int, list[int]]:
        """(terms before the run, places of the run): the run of the pattern that is found least often."""
        best: tuple[int, int, list[Key]] | None = None
        for length in (3, 2):
            for first in range(len(terms) - length + 1):
                keys = _keys(terms[first : first + length])
                if keys is None:
                    continue
                size = sum(len(self._places[key]) for key in keys if key in self._places)
                if best is None or size < best[0]:
                    best = (size, first, keys)
        if best is None:
            return 0, [
                n * _MOST_ENTRIES + i for n, entries in enumerate(self._entries) for i in range(len(entries))
            ]
        return best[1], [place for key in best[2] for place in self._places.get(key, ())]


def _filed(entries: Sequence[Entry]) -> Iterator[tuple[Key, int]]:
    """Each run with the place of its first chord."""
    size = len(entries)
    for place in range(size):
        near = [entries[(place + shift) % size] for shift in range(-_NEAR, _NEAR + 4)]
        tonics = {entry.key for entry in near} | {entry.goal for entry in near if entry.goal is not None}
        for length in (2, 3):
            run = [entries[(place + shift) % size] for shift in range(length)]
            if size < length or not all(entry.quality_class for entry in run):
                continue
            for tonic in tonics:
                yield tuple(((entry.root - tonic) % 12, entry.quality_class) for entry in run), place


def _keys(terms: tuple[Term, ...]) -> list[Key] | None:
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
    return [tuple(key) for key in product(*options)] if total <= _MOST_LOOKUPS else None
