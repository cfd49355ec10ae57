"""A pattern made from chords that somebody chose on a chart, with what is left loose: the way from bars to a name.

The chords chosen become terms of `tunes.harmony.progressions.pattern`, counted from the chord that they lead to or from the
key that they stand in. That the pattern finds the very chords it was made from is checked, never assumed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from tunes.harmony.pitch.spelling import NoteName, degree_between
from tunes.harmony.progressions.idioms import Occurrence, find_idioms
from tunes.harmony.progressions.pattern import CLASS_OF_QUALITY, MOST_OPTIONAL, MOST_TERMS
from tunes.harmony.progressions.table import make_idiom
from tunes.harmony.readings.reading import Analysis, Reading

KIND, EXACT, ANY = "kind", "exact", "any"
ANYWHERE, HOME, AWAY, SOUND = "anywhere", "home", "away", "sound"
CLOSENESS = (KIND, EXACT, ANY)

_CLASS_SAID = {
    "maj": "major", "min": "minor", "dom": "dominant", "half": "half-diminished", "dim": "diminished",
    "aug": "augmented", "sus": "suspended", "open": "open fifth",
}  # fmt: skip
_EXACT_SAID = {
    "": "major triad", "6": "6", "maj7": "major 7", "m": "minor triad", "m6": "minor 6", "m7": "minor 7",
    "mmaj7": "minor, major 7", "7sus": "7 suspended", "dim7": "diminished 7",
}  # fmt: skip
_EXACT_TYPED = {
    "": "triad", "6": "6", "maj7": "maj7", "m": "mtriad", "m6": "m6", "m7": "m7", "mmaj7": "mmaj7", "7sus": "7sus",
    "dim7": "dim7",
}  # fmt: skip


class NotAPattern(ValueError):
    """The chords chosen make no pattern; the message says why and what to choose instead."""


@dataclass(frozen=True, slots=True)
class Centre:
    """What degrees are counted from: its note, and its degree in the key of the passage ("1" for that key itself)."""

    note: NoteName
    degree: str = "1"

    @property
    def home(self) -> bool:
        return self.degree == "1"


@dataclass(frozen=True, slots=True)
class Step:
    """One term: the events it stands for, its degree and that of another bass ("" for none) from the centre, its sound."""

    events: tuple[int, ...]
    degree: str
    bass: str
    quality: str

    @property
    def quality_class(self) -> str:
        return CLASS_OF_QUALITY[self.quality]

    def typed(self, closeness: str) -> str:
        """The degree and quality as a pattern has them, the bass left out."""
        exact = _EXACT_TYPED.get(self.quality) if closeness == EXACT else None
        loose = "" if self.quality_class == "open" else self.quality_class
        return self.degree + ("" if closeness == ANY else exact or loose)

    def said(self, closeness: str) -> str:
        """The same in words, without the degree: "minor", "minor 7", "any chord"."""
        if closeness == ANY:
            return "any chord"
        exact = _EXACT_SAID.get(self.quality) if closeness == EXACT else None
        return exact or _CLASS_SAID[self.quality_class]


@dataclass(frozen=True, slots=True)
class Loose:
    """What a pattern leaves open. closeness: one of `CLOSENESS`; where: ANYWHERE, HOME, AWAY or SOUND; `bass`: another bass
    counts; `optional`: numbers, from 0, of the steps that may be left out."""

    closeness: str = KIND
    where: str = ANYWHERE
    bass: bool = False
    optional: frozenset[int] = frozenset()


def between(first: int, last: int, count: int) -> tuple[int, ...]:
    """The events from one to another, through the repeat of the form when the last comes before the first."""
    return tuple(range(first, last + 1)) if first <= last else (*range(first, count), *range(last + 1))


def centres(analysis: Analysis, events: Sequence[int]) -> tuple[Centre, ...]:
    """What the degrees of these chords may be counted from, the likelier first: the key of the last chord, or a chord
    that they lead to, where more of them stand on it or head for it than for home."""
    readings = [analysis.readings[event] for event in events]
    last = readings[-1]
    home = Centre(last.key.tonic)
    goals = [_goal(reading) for reading in readings]
    reached = [goal for goal in goals[:-1] if goal is not None and goal.pc == last.root]
    led_to = goals[-1] or next(iter(reached), None)
    if led_to is None or led_to.pc == home.note.pc:
        return (home,)
    away = Centre(led_to, last.key.degree_of(led_to))
    return (away, home) if _told_by(readings, led_to) > _told_by(readings, home.note) else (home, away)


def _told_by(readings: Sequence[Reading], note: NoteName) -> int:
    """How many of the chords stand on a note or head for it."""
    goals = [_goal(reading) for reading in readings]
    return sum(
        reading.root == note.pc or (goal is not None and goal.pc == note.pc)
        for reading, goal in zip(readings, goals, strict=True)
    )


def _goal(reading: Reading) -> NoteName | None:
    target = reading.function.target
    return reading.key.note_at(target) if target is not None else None


def steps_of(analysis: Analysis, events: Sequence[int], centre: Centre) -> tuple[Step, ...]:
    """The chords as terms, a repeated one once. Raises `NotAPattern`."""
    readings = [analysis.readings[event] for event in events]
    if any(reading.function.kind == "no-chord" or _unfiled(reading) for reading in readings):
        raise NotAPattern("No chord (N.C.) breaks a progression off. Choose bars without it.")
    one_by_one = [_step(reading, centre) for reading in readings]
    return tuple(_joined(list(group)) for _, group in groupby(one_by_one, key=lambda s: (s.degree, s.bass, s.quality)))


def _unfiled(reading: Reading) -> bool:
    return reading.function.quality not in CLASS_OF_QUALITY


def _step(reading: Reading, centre: Centre) -> Step:
    root = reading.key.note_at(reading.function.degree)
    bass = degree_between(centre.note, reading.key.note_at(reading.bass)) if reading.bass else ""
    return Step((reading.event,), degree_between(centre.note, root), bass, reading.function.quality)


def _joined(group: list[Step]) -> Step:
    first = group[0]
    return Step(tuple(event for step in group for event in step.events), first.degree, first.bass, first.quality)


def written(steps: Sequence[Step], loose: Loose) -> str:
    """The pattern as text. Raises `NotAPattern` when the chords are too few or too many for one."""
    terms: list[str] = []
    for number, step in enumerate(steps):
        term = step.typed(loose.closeness) + (f"_{step.bass}" if loose.bass and step.bass else "")
        term = f"({term})" if number in loose.optional else term
        if not terms or terms[-1] != term:
            terms.append(term)
    if len(terms) < 2:
        raise NotAPattern("A progression has at least two chords. Choose more bars.")
    if len(terms) > MOST_TERMS:
        raise NotAPattern(f"A progression has at most {MOST_TERMS} chords; these are {len(terms)}. Choose fewer bars.")
    if len(loose.optional) > MOST_OPTIONAL:
        raise NotAPattern(f"At most {MOST_OPTIONAL} chords can be left out.")
    if len(terms) - sum(term.startswith("(") for term in terms) < 2:
        raise NotAPattern("At least two chords have to stay.")
    return ("" if loose.where == ANYWHERE else f"{loose.where}: ") + " ".join(terms)


def finds_itself(analysis: Analysis, events: Sequence[int], pattern: str) -> bool:
    """Whether a pattern is found at the chords that it was made from."""
    count = len(analysis.readings)
    found = find_idioms(analysis, [make_idiom("chosen", "chosen", pattern)])
    return any(is_here(one, events, count) for one in found)


def is_here(found: Occurrence, events: Sequence[int], count: int) -> bool:
    """Whether a place is the chosen one: within it, or with more of the same chords around it. count: events of the chart."""
    place, chosen = set(between(found.first, found.last, count)), set(events)
    return place <= chosen or chosen <= place
