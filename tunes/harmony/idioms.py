"""Where idioms occur in an analysed chart: in any key, across barlines, through the repeat of the form.

A pattern is matched against functions: degrees are counted from a tonic that the analysis found, either the key of
the passage ("home") or the chord that a dominant or its ii is heading for ("of 4"). With `fold`, a
substitute counts as what it replaces: a tritone substitute, a backdoor dominant, a suspended dominant and a leading
diminished chord count as the dominant of their goal.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from .idiom_pattern import CLASS_OF_QUALITY, Term
from .idiom_table import BUILT_IN, Idiom, make_idiom
from .reading import Analysis, Reading
from .spelling import SpellingError, degree_interval

__all__ = ["BUILT_IN", "Idiom", "Occurrence", "entries_of", "find_idioms", "make_idiom"]


@dataclass(frozen=True, slots=True)
class Occurrence:
    """An idiom found: event indices, both included; last < first when it runs through the repeat of the form.

    of is the degree of the tonic it leads to, counted in the key of the passage ("1" at home, "4" for "2 5 of 4").
    """

    idiom: str
    first: int
    last: int
    of: str = "1"


class Entry(NamedTuple):
    """A chord of the chorus, repetitions joined: events first..last, pitch classes of root, key and goal.

    quality_class is "" for no chord, which no term matches.
    """

    first: int
    last: int
    root: int
    quality: str
    quality_class: str
    key: int
    goal: int | None


@dataclass(frozen=True, slots=True)
class Hit:
    """A match inside a row of entries: positions of the first and the last entry, and the tonic's pitch class."""

    first: int
    last: int
    tonic: int


_DEGREE_NAMES = ("1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7")


def entries_of(analysis: Analysis, *, fold: bool = False) -> tuple[Entry, ...]:
    """The chorus as entries; with fold, substitutes stand where the chords they replace would."""
    entries: list[Entry] = []
    for reading in analysis.readings:
        entry = _entry(reading, fold)
        before = entries[-1] if entries else None
        if before and (before.root, before.quality, before.key) == (entry.root, entry.quality, entry.key):
            entries[-1] = (before if before.goal is not None else entry)._replace(first=before.first, last=entry.last)
        else:
            entries.append(entry)
    return tuple(entries)


def _entry(reading: Reading, fold: bool) -> Entry:
    function, key = reading.function, reading.key.tonic.pc
    if function.kind == "no-chord":
        return Entry(reading.event, reading.event, -1, "", "", key, None)
    root = (key + _semitones(function.degree)) % 12
    quality = function.quality
    goal = (key + _semitones(function.target)) % 12 if function.target is not None else None
    if fold and goal is not None and function.of in ("sub5", "7", "b7"):
        root, quality = (goal + 7) % 12, "7"
    elif fold and goal is not None and function.of == "2":
        root = (goal + 2) % 12
    elif fold and quality == "7sus":
        quality = "7"
    return Entry(reading.event, reading.event, root, quality, CLASS_OF_QUALITY.get(quality, ""), key, goal)


@lru_cache(maxsize=256)
def _semitones(degree: str) -> int:
    try:
        return degree_interval(degree).semitones % 12
    except SpellingError:
        return 0


class Openings:
    """Which of some idioms can begin with two given sounds, a given way apart: worked out once for each such pair."""

    def __init__(self, idioms: Iterable[Idiom]) -> None:
        self._idioms = tuple(idioms)
        self._known: dict[tuple[str, str, str, str, int], tuple[Idiom, ...]] = {}

    def at(self, entry: Entry, following: Entry) -> tuple[Idiom, ...]:
        """The idioms whose first two terms do not rule out these neighbours."""
        rise = (following.root - entry.root) % 12
        pair = (entry.quality_class, entry.quality, following.quality_class, following.quality, rise)
        found = self._known.get(pair)
        if found is None:
            found = tuple(idiom for idiom in self._idioms if _may_begin(idiom, entry, following))
            self._known[pair] = found
        return found


def _may_begin(idiom: Idiom, entry: Entry, following: Entry) -> bool:
    """Whether the first term fits the one and the second the other (or the first lasts), from any tonic."""
    lasts = entry.root == following.root
    return any(
        fits(terms[0], entry, tonic) and (fits(terms[1], following, tonic) or (lasts and fits(terms[0], following, tonic)))
        for terms in idiom.pattern.readings
        for tonic in range(12)
    )


_BUILT_IN_OPENINGS = Openings(BUILT_IN.values())


def find_idioms(
    analysis: Analysis, idioms: Iterable[Idiom] | None = None, *, fold: bool = False, cyclic: bool = True
) -> tuple[Occurrence, ...]:
    """Every place where one of the idioms (the built-in ones when none are given) occurs, in order of place."""
    entries = entries_of(analysis, fold=fold)
    openings = _BUILT_IN_OPENINGS if idioms is None else Openings(idioms)
    found: set[Occurrence] = set()
    for start, entry in enumerate(entries):
        for idiom in openings.at(entry, entries[(start + 1) % len(entries)]):
            hit = match_at(entries, start, idiom, cyclic=cyclic)
            if hit is not None:
                found.add(as_occurrence(entries, idiom, hit))
    return tuple(sorted(found, key=lambda o: (o.first, o.last, o.idiom)))


def as_occurrence(entries: Sequence[Entry], idiom: Idiom, hit: Hit) -> Occurrence:
    key = entries[hit.last].key
    return Occurrence(
        idiom.id, entries[hit.first].first, entries[hit.last].last, _DEGREE_NAMES[(hit.tonic - key) % 12]
    )


def match_at(entries: Sequence[Entry], start: int, idiom: Idiom, *, cyclic: bool = True) -> Hit | None:
    """The longest reading of the idiom that begins at an entry; home before any other tonic."""
    for terms in idiom.pattern.readings:
        for tonic in _tonics(entries, start, len(terms), idiom.pattern.home_only, cyclic):
            last = _follow(entries, start, terms, tonic, cyclic)
            if last is None or not _allowed(entries, start, last, tonic, idiom.pattern.home_only):
                continue
            if not _begins_earlier(entries, start, last, terms, tonic, cyclic):
                return Hit(start, last % len(entries), tonic)
    return None


def _begins_earlier(
    entries: Sequence[Entry], start: int, last: int, terms: tuple[Term, ...], tonic: int, cyclic: bool
) -> bool:
    """Whether the chord before belongs to the first term too, so that this match is only its later half."""
    if last - start + 1 >= len(entries) or (start == 0 and not cyclic):
        return False
    before = entries[start - 1]
    if before.root != entries[start].root or not fits(terms[0], before, tonic):
        return False
    begin = start - 1 if start else len(entries) - 1
    end = _follow(entries, begin, terms, tonic, cyclic)
    return end is not None and end % len(entries) == last % len(entries)


def _tonics(entries: Sequence[Entry], start: int, length: int, home_only: bool, cyclic: bool) -> list[int]:
    """Tonics to try: keys of the stretch, then what its chords are heading for."""
    stretch = [entries[i % len(entries)] for i in range(start, start + length) if cyclic or i < len(entries)]
    keys = dict.fromkeys(entry.key for entry in reversed(stretch))
    if not home_only:
        keys.update(dict.fromkeys(entry.goal for entry in stretch if entry.goal is not None))
    return list(keys)


def _allowed(entries: Sequence[Entry], start: int, last: int, tonic: int, home_only: bool) -> bool:
    """Home: the last chord stands in the key of that tonic. Elsewhere: some chord is heading for it."""
    stretch = [entries[i % len(entries)] for i in range(start, last + 1)]
    if stretch[-1].key == tonic:
        return True
    return not home_only and any(entry.goal == tonic for entry in stretch)


def _follow(
    entries: Sequence[Entry], start: int, terms: tuple[Term, ...], tonic: int, cyclic: bool
) -> int | None:
    """Position of the last entry when the terms fit from `start` on; a term may last over chords of one root."""
    size = len(entries)
    at = start
    for index, term in enumerate(terms):
        if at - start >= size or (at >= size and not cyclic) or not fits(term, entries[at % size], tonic):
            return None
        following = terms[index + 1] if index + 1 < len(terms) else None
        at += 1
        while following is not None and _lasts(entries, at, start, term, following, tonic, cyclic):
            at += 1
    return at - 1


def _lasts(
    entries: Sequence[Entry], at: int, start: int, term: Term, following: Term, tonic: int, cyclic: bool
) -> bool:
    size = len(entries)
    if at - start >= size or (at >= size and not cyclic):
        return False
    entry, before = entries[at % size], entries[(at - 1) % size]
    return entry.root == before.root and fits(term, entry, tonic) and not fits(following, entry, tonic)


def fits(term: Term, entry: Entry, tonic: int) -> bool:
    """Whether a chord can stand for a term when degrees are counted from a tonic (pitch class)."""
    if not entry.quality_class:
        return False
    degree = (entry.root - tonic) % 12
    return any(choice.fits(degree, entry.quality_class, entry.quality) for choice in term)
