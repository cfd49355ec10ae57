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

from tunes.harmony.pitch.spelling import SpellingError, degree_interval
from tunes.harmony.progressions.match import Entry, Hit, Line, fits, match_at, tonics
from tunes.harmony.progressions.pattern import CLASS_OF_QUALITY, Term
from tunes.harmony.progressions.table import BUILT_IN, Idiom, make_idiom
from tunes.harmony.readings.reading import Analysis, Reading

__all__ = ["BUILT_IN", "Idiom", "Occurrence", "entries_of", "find_idioms", "make_idiom"]


@dataclass(frozen=True, slots=True)
class Occurrence:
    """An idiom found: event indices, both included; last < first when it runs through the repeat of the form.

    of is the degree of the tonic it leads to, counted in the key of the passage ("1" at home, "4" for "2 5 of 4"; "1" for
    a pattern by sound, which has none).
    """

    idiom: str
    first: int
    last: int
    of: str = "1"


_CHORDS_OF_A_VAMP = 2
DEGREE_NAMES = ("1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7")


def entries_of(analysis: Analysis, *, fold: bool = False) -> tuple[Entry, ...]:
    """The chorus as entries; with fold, substitutes stand where the chords they replace would."""
    entries: list[Entry] = []
    for reading in analysis.readings:
        entry = _entry(reading, analysis.readings, fold)
        before = entries[-1] if entries else None
        if before and _same_chord(before, entry):
            entries[-1] = _joined(before, entry)
        else:
            entries.append(entry)
    if _is_vamp(entries):
        entries = [entry._replace(centre=True) for entry in entries]
    return tuple(entries)


def _same_chord(before: Entry, entry: Entry) -> bool:
    return (before.root, before.quality, before.key, before.bass) == (entry.root, entry.quality, entry.key, entry.bass)


def _joined(before: Entry, entry: Entry) -> Entry:
    kept = before if before.goal is not None else entry
    arrives = before.arrives if entry.arrives is None else entry.arrives
    return kept._replace(first=before.first, last=entry.last, arrives=arrives, centre=before.centre or entry.centre)


def _is_vamp(entries: Sequence[Entry]) -> bool:
    """Whether the chart is nothing but two chords in turn: then either of them can be heard as home."""
    sounds = {(entry.root, entry.quality_class) for entry in entries}
    return len(sounds) == len({root for root, _ in sounds}) == _CHORDS_OF_A_VAMP and -1 not in dict(sounds)


def _entry(reading: Reading, readings: Sequence[Reading], fold: bool) -> Entry:
    function, key = reading.function, reading.key.tonic.pc
    if function.kind == "no-chord":
        return Entry(reading.event, reading.event, -1, "", "", key, None)
    root = _root(reading)
    bass = (key + _semitones(reading.bass) - root) % 12 if reading.bass else 0
    quality = function.quality
    goal = (key + _semitones(function.target)) % 12 if function.target is not None else None
    if fold and goal is not None and function.of in ("sub5", "7", "b7"):
        root, quality, bass = (goal + 7) % 12, "7", 0
    elif fold and goal is not None and function.of == "2":
        root, bass = (goal + 2) % 12, 0
    elif fold and quality == "7sus":
        quality = "7"
    return Entry(
        reading.event, reading.event, root, quality, CLASS_OF_QUALITY.get(quality, ""), key, goal,
        _arrives(reading, readings, goal), function.kind == "vamp", bass,
    )  # fmt: skip


def _root(reading: Reading) -> int:
    return (reading.key.tonic.pc + _semitones(reading.function.degree)) % 12


def _arrives(reading: Reading, readings: Sequence[Reading], goal: int | None) -> int | None:
    """The root that a chord reaches in the end, or whose place another chord takes; None when it is left standing."""
    event = reading.resolves_to
    if reading.resolution == "deceptive":
        return goal
    if event is None or reading.resolution == "none" or not 0 <= event < len(readings):
        return None
    return _root(readings[event])


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
        self._known: dict[tuple[str, int, str, int, int], tuple[Idiom, ...]] = {}
        self._firsts: dict[tuple[str, int], tuple[_First, ...]] = {}

    def at(self, entry: Entry, following: Entry) -> tuple[Idiom, ...]:
        """The idioms whose first two terms do not rule out these neighbours."""
        rise = (following.root - entry.root) % 12
        pair = (entry.quality, entry.bass, following.quality, following.bass, rise)
        if not (entry.quality_class and following.quality_class):
            return ()
        found = self._known.get(pair)
        if found is None:
            begun = (first.idiom for first in self._begun_by(entry) if _goes_on(first, entry, following))
            found = self._known[pair] = tuple(dict.fromkeys(begun))
        return found

    def _begun_by(self, entry: Entry) -> tuple[_First, ...]:
        """The readings whose first term fits a chord, whatever its root."""
        sound = (entry.quality, entry.bass)
        if sound not in self._firsts:
            self._firsts[sound] = tuple(
                _First(idiom, terms, (entry.root - tonic) % 12)
                for idiom in self._idioms
                for terms in idiom.pattern.readings
                for tonic in tonics(terms, entry)
                if fits(terms[0], entry, tonic)
            )
        return self._firsts[sound]


class _First(NamedTuple):
    """One reading of an idiom that a chord can begin, so many semitones above the tonic."""

    idiom: Idiom
    terms: tuple[Term, ...]
    above: int


def _goes_on(first: _First, entry: Entry, following: Entry) -> bool:
    """Whether the second term fits the next chord, or the first lasts."""
    tonic = (entry.root - first.above) % 12
    lasts = entry.root == following.root
    return fits(first.terms[1], following, tonic) or (lasts and fits(first.terms[0], following, tonic))


_BUILT_IN_OPENINGS = Openings(BUILT_IN.values())


def find_idioms(
    analysis: Analysis, idioms: Iterable[Idiom] | None = None, *, fold: bool = False, cyclic: bool = True
) -> tuple[Occurrence, ...]:
    """Every place where one of the idioms (the built-in ones when none are given) occurs, in order of place."""
    entries = entries_of(analysis, fold=fold)
    openings = _BUILT_IN_OPENINGS if idioms is None else Openings(idioms)
    line = Line(entries)
    found: set[Occurrence] = set()
    for start, entry in enumerate(entries):
        for idiom in openings.at(entry, entries[(start + 1) % len(entries)]):
            hit = match_at(line, start, idiom.pattern, cyclic=cyclic)
            if hit is not None:
                found.add(as_occurrence(line, idiom, hit))
    return tuple(sorted(found, key=lambda o: (o.first, o.last, o.idiom)))


def as_occurrence(line: Line, idiom: Idiom, hit: Hit) -> Occurrence:
    """A match by its events; one that goes round the whole form and further ends with the chord before its first."""
    key = line.at(hit.last).key
    last = min(hit.last, hit.first + line.size - 1)
    of = "1" if idiom.pattern.by_sound else DEGREE_NAMES[(hit.tonic - key) % 12]
    return Occurrence(idiom.id, line.at(hit.first).first, line.at(last).last, of)
