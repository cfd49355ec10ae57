"""What a player is in the habit of: a degree over a function, oftener than recorded solos would have it by accident.

An occasion is one chord in one bar with the notes over it. How often its notes would hold a degree anyway is reckoned
from how often that degree comes over that kind of chord in recorded solos (`profiles`), for as many notes as were
played: for q the rate of the degree among notes, 1 − (1 − q)ⁿ for n notes. The chance of so many occasions or more is the tail of
the sum of these (a Poisson binomial), and it is corrected for all degrees over all functions that could have come out
(Šidák 1967, over those that could come out at all: Tarone, *Biometrics* 46, 1990).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from math import prod, sqrt

from .notes import Change, Grid, Note
from .profiles import Kind, kind_of, rates
from .reading import NoteReading

FEWEST_OCCASIONS = 5
RARE = 0.01
"""A corrected chance below this is a habit."""
_FAR = 1.3
"""Standard deviations above what is usual from which the chance is worked out."""


@dataclass(frozen=True, slots=True)
class Habit:
    """A degree over a function: `times` of `of` occasions.

    function   as players say it ("5 of 2"), or the kind of chord and where it goes ("dominant to minor").
    degree, semitones   over the chord.
    usual      share of such occasions that hold it in recorded solos, for as many notes (0 to 1).
    p          chance of so many by accident, corrected for what was tried; 1 where there are fewer than five occasions.
    places     indices of the notes.
    """

    function: str
    degree: str
    semitones: int
    times: int
    of: int
    usual: float
    p: float
    places: tuple[int, ...]

    @property
    def is_habit(self) -> bool:
        return self.p < RARE


@dataclass(slots=True)
class _Group:
    """The occasions of one function: for each the kind of chord and its notes by semitones above the root; the degrees that
    came outside the chord."""

    kinds: list[Kind]
    notes: list[dict[int, list[int]]]
    degrees: dict[int, str]


def habits(
    readings: Sequence[NoteReading], notes: Sequence[Note], changes: Sequence[Change], grid: Grid
) -> tuple[Habit, ...]:
    """Every degree outside the chord over every function that comes, the rarest by accident first."""
    groups = _groups(readings, notes, changes, grid)
    tried = [one for name, group in groups.items() for one in _tried(name, group)]
    count = sum(one.least < RARE for one in tried)
    found = [one.habit(count) for one in tried]
    return tuple(sorted(found, key=lambda habit: (habit.p, -habit.times / habit.of, habit.function, habit.semitones)))


def _groups(
    readings: Sequence[NoteReading], notes: Sequence[Note], changes: Sequence[Change], grid: Grid
) -> dict[str, _Group]:
    groups: dict[str, _Group] = {}
    kinds = kinds_of(changes)
    bars = grid.numbers(note.onset for note in notes)
    last: tuple[int, int] | None = None
    group = _Group([], [], {})
    for reading in readings:
        if reading.change is None or reading.semitones is None or notes[reading.note].ghost:
            continue
        here = (reading.change, bars[reading.note])
        if here != last:
            kind = kinds[reading.change]
            group = groups.setdefault(name_of(changes[reading.change], kind), _Group([], [], {}))
            group.kinds.append(kind)
            group.notes.append(defaultdict(list))
            last = here
        group.notes[-1][reading.semitones].append(reading.note)
        if reading.role != "chord tone":
            group.degrees[reading.semitones] = reading.degree or ""
    return groups


def kinds_of(changes: Sequence[Change]) -> list[Kind]:
    """The kind of every change: its class, and where it goes when it is a dominant."""
    kinds: list[Kind] = []
    following: Change | None = None
    for place in range(len(changes) - 1, -1, -1):
        change = changes[place]
        if place + 1 < len(changes) and changes[place + 1].symbol != change.symbol:
            following = changes[place + 1]
        kinds.append(kind_of(change, following))
    return kinds[::-1]


def name_of(change: Change, kind: Kind) -> str:
    """A function as it is said: that of the analysis, else the kind of chord and where it goes."""
    if change.function is not None and change.function.kind != "no-chord":
        return change.function.spoken
    return " ".join(kind).strip()


@dataclass(slots=True)
class _Try:
    """One degree over one function, before the correction."""

    name: str
    degree: str
    semitones: int
    places: tuple[int, ...]
    times: int
    odds: list[float]
    p: float
    least: float

    def habit(self, tried: int) -> Habit:
        enough = len(self.odds) >= FEWEST_OCCASIONS
        p = 1.0 - (1.0 - self.p) ** max(1, tried) if enough else 1.0
        usual = sum(self.odds) / len(self.odds)
        return Habit(self.name, self.degree, self.semitones, self.times, len(self.odds), usual, p, self.places)


def _tried(name: str, group: _Group) -> list[_Try]:
    found = []
    counts = [sum(map(len, notes.values())) for notes in group.notes]
    shares = [rates(kind) for kind in group.kinds]
    for semitones, degree in group.degrees.items():
        held = [notes[semitones] for notes in group.notes if semitones in notes]
        odds = [1 - (1 - share[semitones]) ** n for share, n in zip(shares, counts, strict=True)]
        places = tuple(place for notes in held for place in notes)
        p = tail(odds, len(held)) if len(odds) >= FEWEST_OCCASIONS else 1.0
        found.append(_Try(name, degree, semitones, places, len(held), odds, p, prod(odds)))
    return found


def tail(odds: Sequence[float], times: int) -> float:
    """Chance that at least `times` of independent events happen; 1 where that is no surprise.

    >>> round(tail([0.244] * 6, 5), 3), tail([0.5] * 6, 3)
    (0.004, 1.0)
    """
    mean = sum(odds)
    if times <= mean + _FAR * sqrt(max(1e-12, sum(p * (1 - p) for p in odds))):
        return 1.0
    below = [1.0] + [0.0] * (times - 1)
    for p in odds:
        for k in range(times - 1, 0, -1):
            below[k] += p * (below[k - 1] - below[k])
        below[0] *= 1 - p
    return max(0.0, 1.0 - sum(below))
