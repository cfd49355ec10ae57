"""Matching a pattern in one chart: its chords as a line of characters, the pattern as a regular expression for each tonic.

A chord is one character (its root, its quality and its bass), the line runs three times round the form, so that what goes through
the repeat is an ordinary stretch of it. A term may last over several chords of one root; the expression says so. One chart is walked
term by term (`Walk`), which asks only what its own chords need; a whole repertoire is searched by the expression, which is dear to make.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from tunes.harmony.progressions.pattern import CLASS_OF_QUALITY, Pattern, Term

_ROUNDS = 3  # a match begins in the first and may go on for two rounds
_FIRST_CHARACTER = 33
_SILENT = "\x01"
_QUALITIES = tuple(CLASS_OF_QUALITY)
_PLACE_OF_QUALITY = {quality: place for place, quality in enumerate(_QUALITIES)}


class Entry(NamedTuple):
    """A chord of the chorus, repetitions joined: events first..last, pitch classes of root, key and goal.

    quality_class is "" for no chord, which no term matches. arrives is the root that the analysis sees it reach, at
    once or later; centre says that the chord may itself be heard as home (a vamp); bass is semitones above the root.
    """

    first: int
    last: int
    root: int
    quality: str
    quality_class: str
    key: int
    goal: int | None
    arrives: int | None = None
    centre: bool = False
    bass: int = 0


class Hit(NamedTuple):
    """A match: positions of its first and its last entry (the last not wrapped round), the tonic's pitch class."""

    first: int
    last: int
    tonic: int
    home: bool


class Line:
    """The entries of a chart, ready to be searched."""

    __slots__ = ("entries", "size", "text")

    def __init__(self, entries: Sequence[Entry]) -> None:
        self.entries = tuple(entries)
        self.size = len(self.entries)
        self.text = "".join(_character(entry) for entry in self.entries) * _ROUNDS

    def at(self, place: int) -> Entry:
        return self.entries[place % self.size]

    def end(self, start: int, cyclic: bool) -> int:
        """Where a match that begins at `start` must have ended: the form is repeated once at most."""
        return start + 2 * self.size if cyclic and self.size > 1 else self.size


def _character(entry: Entry) -> str:
    return _sound(entry.root, entry.quality, entry.bass) if entry.quality_class else _SILENT


def _sound(root: int, quality: str, bass: int) -> str:
    return chr(_FIRST_CHARACTER + (root * len(_QUALITIES) + _PLACE_OF_QUALITY[quality]) * 12 + bass)


def match_at(line: Line, start: int, pattern: Pattern, *, cyclic: bool = True) -> Hit | None:
    """The longest reading of the pattern that begins at an entry; home before any other tonic."""
    for terms in pattern.readings:
        best: Hit | None = None
        for tonic in tonics(terms, line.entries[start]):
            hit = match_from(line, start, terms, tonic, pattern, cyclic)
            if hit is not None and (best is None or (hit.home and not best.home)):
                best = hit
        if best is not None:
            return best
    return None


def tonics(terms: tuple[Term, ...], entry: Entry) -> list[int]:
    """The tonics from which the first term can be that chord: all twelve when it names neither degree nor bass."""
    found: set[int] = set()
    for choice in terms[0]:
        if choice.degree is not None:
            found.add((entry.root - choice.degree) % 12)
        elif choice.bass is not None:
            found.add((entry.root + entry.bass - choice.bass) % 12)
        else:
            return list(range(12))
    return sorted(found)


def match_from(
    line: Line, start: int, terms: tuple[Term, ...], tonic: int, pattern: Pattern, cyclic: bool = True
) -> Hit | None:
    """One reading of the pattern from one entry, counted from one tonic."""
    after = walk(terms, tonic).end(line, start, line.end(start, cyclic))
    if after is None:
        return None
    last = after - 1
    home = not pattern.by_sound and is_home(line, start, last, tonic)
    if not _has_its_place(line, start, last, tonic, pattern, home):
        return None
    if pattern.left_open and closes(line, last, tonic, cyclic):
        return None
    if _begins_earlier(line, start, last, terms, tonic, cyclic) or _is_led_into(
        line, start, last, terms, tonic, pattern, cyclic
    ):
        return None
    return Hit(start, last, tonic, home)


def _has_its_place(line: Line, start: int, last: int, tonic: int, pattern: Pattern, home: bool) -> bool:
    """Whether a stretch does what the head of the pattern asks for."""
    if pattern.by_sound:
        return True
    return not pattern.away_only if home else not pattern.home_only and is_heading(line, start, last, tonic)


def is_home(line: Line, first: int, last: int, tonic: int) -> bool:
    """The last chord stands in the key of that tonic, or one of the chords is a centre of its own on it."""
    if line.at(last).key == tonic:
        return True
    return any(entry.centre and entry.root == tonic for entry in _stretch(line, first, last))


def is_heading(line: Line, first: int, last: int, tonic: int) -> bool:
    """Some chord of the stretch is heading for that tonic."""
    return any(entry.goal == tonic for entry in _stretch(line, first, last))


def closes(line: Line, last: int, tonic: int, cyclic: bool = True) -> bool:
    """Whether the tonic follows the last chord of a stretch: as the next root, or later as the analysis hears it."""
    entry = line.at(last)
    if entry.arrives == tonic:
        return True
    for place in range(last + 1, last + line.size if cyclic else line.size):
        if line.at(place).root != entry.root:
            return line.at(place).root == tonic
    return False


def _stretch(line: Line, first: int, last: int) -> Iterator[Entry]:
    return (line.at(place) for place in range(first, last + 1))


def _begins_earlier(line: Line, start: int, last: int, terms: tuple[Term, ...], tonic: int, cyclic: bool) -> bool:
    """Whether the chord before belongs to the first term too, so that this match is only its later half."""
    if start == 0 and not cyclic:
        return False
    before = line.entries[start - 1]
    if before.root != line.entries[start].root or last - start + 1 >= line.size:
        return False
    begin = start - 1 if start else line.size - 1
    after = walk(terms, tonic).end(line, begin, line.end(begin, cyclic))
    return after is not None and (after - 1 - last) % line.size == 0


def _is_led_into(
    line: Line, start: int, last: int, terms: tuple[Term, ...], tonic: int, pattern: Pattern, cyclic: bool
) -> bool:
    """Whether the chord before is a first term that may be left out: then this match is only the rest of that one."""
    if last - start + 1 >= line.size or (start == 0 and not cyclic):
        return False
    begin = start - 1 if start else line.size - 1
    for longer in with_lead(terms, pattern):
        after = walk(longer, tonic).end(line, begin, line.end(begin, cyclic))
        if after is not None and (after - 1 - last) % line.size == 0:
            return True
    return False


def with_lead(terms: tuple[Term, ...], pattern: Pattern) -> list[tuple[Term, ...]]:
    """The readings of a pattern that are this one after one more term."""
    return [row for row in pattern.readings if row[1:] == terms]


class Walk:
    """The terms counted from a tonic, as `expression` has them, asked chord by chord and remembered."""

    __slots__ = ("known", "terms", "tonic")

    def __init__(self, terms: tuple[Term, ...], tonic: int) -> None:
        self.terms, self.tonic = terms, tonic
        self.known: tuple[dict[str, bool], ...] = tuple({} for _ in terms)

    def end(self, line: Line, start: int, stop: int) -> int | None:
        """Where a match that begins at `start` has ended, before `stop`; None when there is none.

        A term lasts over chords of its root until the next term can begin, so there is never a choice to go back on.
        """
        place, last = start, len(self.terms) - 1
        for number in range(last + 1):
            if place >= stop or not self._fits(number, line, place):
                return None
            place += 1
            if number < last and place < stop:
                place = self._lasts(number, line, place, stop)
        return place

    def _lasts(self, number: int, line: Line, place: int, stop: int) -> int:
        """Where a term that has begun before `place` gives way."""
        root = line.at(place - 1).root
        while (
            place < stop
            and line.at(place).root == root
            and self._fits(number, line, place)
            and not self._fits(number + 1, line, place)
        ):
            place += 1
        return place

    def _fits(self, number: int, line: Line, place: int) -> bool:
        known, sound = self.known[number], line.text[place]
        found = known.get(sound)
        if found is None:
            found = known[sound] = fits(self.terms[number], line.at(place), self.tonic)
        return found


_WALKS: dict[tuple[int, int], Walk] = {}
_MOST_WALKS = 8192


def walk(terms: tuple[Term, ...], tonic: int) -> Walk:
    """The walk of some terms, kept: what one chart has asked is known for the next. Found by identity, for terms are long to
    hash; a walk holds its terms, so that no others take their place."""
    found = _WALKS.get((id(terms), tonic))
    if found is None:
        if len(_WALKS) >= _MOST_WALKS:
            _WALKS.clear()
        found = _WALKS[id(terms), tonic] = Walk(terms, tonic)
    return found


def fits(term: Term, entry: Entry, tonic: int) -> bool:
    """Whether a chord can stand for a term when degrees are counted from a tonic (pitch class)."""
    if not entry.quality_class:
        return False
    degree = (entry.root - tonic) % 12
    bass = (degree + entry.bass) % 12
    return any(choice.fits(degree, entry.quality_class, entry.quality, bass) for choice in term)


@lru_cache(maxsize=8192)
def expression(terms: tuple[Term, ...], tonic: int) -> re.Pattern[str]:
    """The terms counted from a tonic. A term goes on over chords of its root until the next term can begin."""
    sounds = [_sounds(term, tonic) for term in terms]
    parts = []
    for here, following in pairwise(sounds):
        taken = {sound for row in following.values() for sound in row}
        choices = []
        for row in here.values():
            longer = [sound for sound in row if sound not in taken]
            choices.append(_one_of(row) + (_one_of(longer) + "*" if longer else ""))
        parts.append(f"(?:{'|'.join(choices)})")
    parts.append(_one_of([sound for row in sounds[-1].values() for sound in row]))
    return re.compile("".join(parts))


def _sounds(term: Term, tonic: int) -> dict[int, list[str]]:
    """The characters that fit a term, by root."""
    return {
        (degree + tonic) % 12: [_sound((degree + tonic) % 12, quality, bass) for quality, bass in fitting]
        for degree, fitting in fitting_chords(term).items()
    }


@lru_cache(maxsize=2048)
def fitting_chords(term: Term) -> dict[int, list[tuple[str, int]]]:
    """(quality, semitones of the bass above the root) of the chords that fit a term, by degree."""
    found: dict[int, list[tuple[str, int]]] = {}
    for degree in range(12):
        for quality, quality_class in CLASS_OF_QUALITY.items():
            for bass in _basses(term, degree, quality_class, quality):
                found.setdefault(degree, []).append((quality, bass))
    return found


def _basses(term: Term, degree: int, quality_class: str, quality: str) -> Sequence[int]:
    """The basses, in semitones above the root, over which a chord fits a term."""
    fitting = [choice for choice in term if choice.fits(degree, quality_class, quality, choice.bass)]
    if any(choice.bass is None for choice in fitting):
        return range(12)
    return sorted({(choice.bass - degree) % 12 for choice in fitting if choice.bass is not None})


def _one_of(sounds: Sequence[str]) -> str:
    """A class of characters, neighbours written as a range."""
    parts: list[str] = []
    codes = sorted(map(ord, sounds))
    first = 0
    for place in range(1, len(codes) + 1):
        if place == len(codes) or codes[place] != codes[place - 1] + 1:
            low, high = re.escape(chr(codes[first])), re.escape(chr(codes[place - 1]))
            parts.append(low if place - first == 1 else f"{low}-{high}")
            first = place
    return f"[{''.join(parts)}]"
