"""The home key of a tune: which of the 24 keys its chords, its ends and its cadences speak for.

Every key is weighed by a sum of musical facts: how much of the tune each degree fills, the first and the last
chords, what stands on the eight-bar lines, where dominants arrive, and which cadence is the last (in the
spirit of key profiles and preference rules: Temperley, *The Cognition of Basic Musical Structures*, 2001;
Choi, *Jazz Harmonic Analysis as Optimal Tonality Segmentation*, Computer Music Journal 35/2, 2011).  The
weights in `home_weights` are fitted as `tests/bench/fit.py` says.  Facts count degrees from the tonic asked
about, so every key is treated alike.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain
from typing import NamedTuple

from .home_weights import WEIGHTS
from .sounds import DOM, HALF, MAJ, MIN, STABLE, SUS, Stretch

Fact = tuple[object, ...]
MAJOR, MINOR = "major", "minor"
CANDIDATES: tuple[tuple[int, str], ...] = tuple((tonic, mode) for tonic in range(12) for mode in (MAJOR, MINOR))
_SHARE = 4.0


class _Survey(NamedTuple):
    """What is counted once for all candidates; `periods` is the number of eight-bar periods plus one."""

    chords: Sequence[Stretch]
    total: float
    periods: float
    share: dict[tuple[int, str], float]
    lines: dict[tuple[int, str], int]
    moves: list[tuple[Stretch, Stretch]]
    beats: float


def _survey(chords: Sequence[Stretch], beats: float) -> _Survey:
    total = sum(chord.duration for chord in chords)
    share: dict[tuple[int, str], float] = {}
    lines: dict[tuple[int, str], int] = {}
    for chord in chords:
        sound = (chord.root, chord.cls)
        share[sound] = share.get(sound, 0.0) + chord.duration
        if chord.onset / beats % 8 < 0.01:
            lines[sound] = lines.get(sound, 0) + 1
    moves = list(zip(chords, [*chords[1:], chords[0]], strict=True))
    return _Survey(chords, total, 1 + total / beats / 8, share, lines, moves, beats)


def home_facts(chords: Sequence[Stretch], beats: float) -> list[dict[Fact, float]]:
    """For each of `CANDIDATES`, its facts and how strongly each holds. `chords` must not be empty."""
    survey = _survey(chords, beats)
    table: list[dict[Fact, float]] = []
    for tonic, mode in CANDIDATES:
        found: dict[Fact, float] = {}
        for fact, amount in _facts(survey, tonic, mode):
            found[fact] = found.get(fact, 0.0) + amount
        table.append(found)
    return table


def _facts(survey: _Survey, tonic: int, mode: str) -> Iterator[tuple[Fact, float]]:
    """The facts that speak for one candidate, some of them more than once."""
    for fact, amount in chain(_place_facts(survey, tonic, mode), _cadence_facts(survey, tonic, mode)):
        yield (mode, *fact), amount


def _rests(chord: Stretch, tonic: int, mode: str) -> bool:
    """Whether a chord can be the tonic: its own mode, or the dominant seventh of the blues in major."""
    if chord.root != tonic:
        return False
    return chord.cls == MIN if mode == MINOR else chord.cls in (MAJ, DOM)


def _proper(chord: Stretch, tonic: int, mode: str) -> bool:
    return chord.root == tonic and chord.cls == (MIN if mode == MINOR else MAJ)


def _place_facts(survey: _Survey, tonic: int, mode: str) -> Iterator[tuple[Fact, float]]:
    chords = survey.chords
    for (root, cls), length in survey.share.items():
        yield ("share", (root - tonic) % 12, cls), _SHARE * length / survey.total
    for (root, cls), times in survey.lines.items():
        yield ("line", (root - tonic) % 12, cls), times / survey.periods
    yield ("first", (chords[0].root - tonic) % 12, chords[0].cls), 1.0
    yield ("last", (chords[-1].root - tonic) % 12, chords[-1].cls), 1.0
    if len(chords) > 1:
        yield ("last but one", (chords[-2].root - tonic) % 12, chords[-2].cls), 1.0
    if any(_rests(chord, tonic, mode) for chord in chords[-2:]):
        yield ("tonic in the last two",), 1.0
    if any(_rests(chord, tonic, mode) for chord in chords[-5:]):
        yield ("tonic in the last five",), 1.0
    if _rests(chords[0], tonic, mode) and _rests(chords[-1], tonic, mode):
        yield ("tonic at both ends",), 1.0
    yield _ends(chords, tonic, mode), 1.0
    cls = MIN if mode == MINOR else MAJ
    yield ("tonic share",), _SHARE * survey.share.get((tonic, cls), 0.0) / survey.total


def _ends(chords: Sequence[Stretch], tonic: int, mode: str) -> Fact:
    """Begins on it; ends near it; the last chord leads back to it."""
    last = chords[-1]
    leads = last.cls in (DOM, SUS) and (tonic - last.root) % 12 in (5, 11)
    return (
        "ends", _proper(chords[0], tonic, mode), any(_proper(c, tonic, mode) for c in chords[-3:]), leads
    )  # fmt: skip


def _cadence_facts(survey: _Survey, tonic: int, mode: str) -> Iterator[tuple[Fact, float]]:
    each = 1 / survey.periods
    landed = here = 0
    for a, b in survey.moves:
        if a.cls in (DOM, SUS):
            fall = (b.root - a.root) % 12
            if fall in (5, 11) and _rests(b, tonic, mode):
                yield from _arrival(b, survey.beats, each)
            if fall == 5 and b.cls in STABLE:
                landed += 1
                if _proper(b, tonic, mode):
                    here += 1
                    yield from _when(b, survey)
        elif a.cls in (MIN, HALF) and b.cls in (DOM, SUS) and (b.root - tonic) % 12 == 7 and (b.root - a.root) % 12 == 5:
            yield ("two five", a.cls), each
    if landed:
        yield ("share of cadences",), here / landed
    for a, b in reversed(survey.moves):
        if a.cls in (DOM, SUS) and (b.root - a.root) % 12 == 5 and b.cls in (MAJ, MIN, DOM):
            if _rests(b, tonic, mode):
                yield ("final cadence", b.cls), 1.0
            if b.cls != DOM:
                return


def _arrival(goal: Stretch, beats: float, each: float) -> Iterator[tuple[Fact, float]]:
    bars = goal.onset / beats
    yield ("arrival",), each
    if bars % 4 < 0.01:
        yield ("arrival on four",), each
        if bars % 8 < 0.01:
            yield ("arrival on eight",), each


def _when(goal: Stretch, survey: _Survey) -> Iterator[tuple[Fact, float]]:
    if goal.onset < survey.total * 0.3:
        yield ("early cadence",), 0.5
    if goal.onset > survey.total * 0.75 or goal is survey.chords[0]:
        yield ("late cadence",), 0.5


def weigh_keys(chords: Sequence[Stretch], beats: float) -> list[tuple[float, int, str]]:
    """The candidates as (weight, tonic, mode), heaviest first; equal weights keep the order of `CANDIDATES`
    counted from the root of the first chord, so that no key is preferred for its name."""
    base, survey, weight = chords[0].root, _survey(chords, beats), WEIGHTS.get
    scored = [
        (sum([weight(fact, 0.0) * amount for fact, amount in _facts(survey, tonic, mode)]), tonic, mode)
        for tonic, mode in CANDIDATES
    ]
    scored.sort(key=lambda row: (-row[0], (row[1] - base) % 12, row[2]))
    return scored
