"""The home key of a tune: which of the 24 keys its chords, its ends and its cadences speak for.

Every key is weighed by a sum of musical facts: how much of the tune each degree fills, the first and the last
chords, what stands on the eight-bar lines, where dominants arrive, and which cadence is the last (in the
spirit of key profiles and preference rules: Temperley, *The Cognition of Basic Musical Structures*, 2001;
Choi, *Jazz Harmonic Analysis as Optimal Tonality Segmentation*, Computer Music Journal 35/2, 2011).  The
weights (`models`) are fitted as `tests/bench/fit.py` says.  Facts count degrees from the tonic asked
about, so every key is treated alike.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from tunes.harmony.analysis.models import HOME_KEY, load
from tunes.harmony.analysis.sounds import DOM, HALF, MIN, STABLE, SUS, Stretch

Fact = tuple[object, ...]
WEIGHTS = load(HOME_KEY).weights
MAJOR, MINOR = "major", "minor"
Candidate = tuple[int, str]
"""Tonic pitch class and mode."""
CANDIDATES: tuple[Candidate, ...] = tuple((tonic, mode) for tonic in range(12) for mode in (MAJOR, MINOR))
_SHARE = 4.0

_Common = tuple[str, int, str]  # a name, and the chord spoken of by the pitch class of its root and by its class
_Own = tuple[Candidate, Fact, float]


class _Survey(NamedTuple):
    """A tune to be weighed; `periods` is the number of eight-bar periods plus one."""

    chords: Sequence[Stretch]
    beats: float
    total: float
    periods: float


def _survey(chords: Sequence[Stretch], beats: float) -> _Survey:
    total = sum(chord.duration for chord in chords)
    return _Survey(chords, beats, total, 1 + total / beats / 8)


def home_facts(chords: Sequence[Stretch], beats: float) -> list[dict[Fact, float]]:
    """For each of `CANDIDATES`, its facts and how strongly each holds. `chords` must not be empty."""
    survey = _survey(chords, beats)
    table: dict[Candidate, dict[Fact, float]] = {key: {} for key in CANDIDATES}
    for (name, root, cls), amount in _common_facts(survey):
        for tonic, mode in CANDIDATES:
            _add(table[tonic, mode], (mode, name, (root - tonic) % 12, cls), amount)
    for key, fact, amount in _own_facts(survey):
        _add(table[key], (key[1], *fact), amount)
    return list(table.values())


def _add(found: dict[Fact, float], fact: Fact, amount: float) -> None:
    found[fact] = found.get(fact, 0.0) + amount


TYPED, TYPED_RELATIVE = 5.0, 2.5
"""What the key that a chart states adds to the weight of that key, and of its relative (the signature is right, the mode not
always): strong, but not stronger than chords that speak for another key from end to end. Our choice."""


def weigh_keys(chords: Sequence[Stretch], beats: float, typed: Candidate | None = None) -> list[tuple[float, int, str]]:
    """The candidates as (weight, tonic, mode), heaviest first; equal weights keep the order of `CANDIDATES`
    counted from the root of the first chord, so that no key is preferred for its name."""
    base, survey = chords[0].root, _survey(chords, beats)
    sums = [0.0] * len(CANDIDATES)
    for common, amount in _common_facts(survey):
        sums = [total + weight * amount for total, weight in zip(sums, _weights(*common), strict=True)]
    weighed = dict(zip(CANDIDATES, sums, strict=True))
    for key, fact, amount in _own_facts(survey):
        weighed[key] += WEIGHTS.get((key[1], *fact), 0.0) * amount
    if typed is not None:
        weighed[typed] += TYPED
        weighed[_relative(typed)] += TYPED_RELATIVE
    scored = [(weight, tonic, mode) for (tonic, mode), weight in weighed.items()]
    scored.sort(key=lambda row: (-row[0], (row[1] - base) % 12, row[2]))
    return scored


def _relative(key: Candidate) -> Candidate:
    """The key of the same signature and the other mode."""
    return ((key[0] + 9) % 12, MINOR) if key[1] == MAJOR else ((key[0] + 3) % 12, MAJOR)


@lru_cache(maxsize=1024)
def _weights(name: str, root: int, cls: str) -> list[float]:
    """What a common fact weighs for each of `CANDIDATES`."""
    return [WEIGHTS.get((mode, name, (root - tonic) % 12, cls), 0.0) for tonic, mode in CANDIDATES]


def _common_facts(survey: _Survey) -> Iterator[tuple[_Common, float]]:
    """How much each chord fills, how often it stands on an eight-bar line, and the chords at both ends."""
    chords = survey.chords
    share: dict[tuple[int, str], float] = {}
    lines: dict[tuple[int, str], int] = {}
    for chord in chords:
        sound = (chord.root, chord.cls)
        share[sound] = share.get(sound, 0.0) + chord.duration
        if chord.onset / survey.beats % 8 < 0.01:
            lines[sound] = lines.get(sound, 0) + 1
    for (root, cls), length in share.items():
        yield ("share", root, cls), _SHARE * length / survey.total
    for (root, cls), times in lines.items():
        yield ("line", root, cls), times / survey.periods
    yield ("first", chords[0].root, chords[0].cls), 1.0
    yield ("last", chords[-1].root, chords[-1].cls), 1.0
    if len(chords) > 1:
        yield ("last but one", chords[-2].root, chords[-2].cls), 1.0


def _own_facts(survey: _Survey) -> Iterator[_Own]:
    """What speaks for single keys, some of it more than once."""
    moves = list(zip(survey.chords, [*survey.chords[1:], survey.chords[0]], strict=True))
    yield from _tonic_facts(survey)
    yield from _end_facts(survey.chords)
    yield from _arrival_facts(survey, moves)
    yield from _cadence_facts(survey, moves)
    yield from _final_facts(moves)


def _key_of(chord: Stretch) -> Candidate | None:
    """The key whose tonic a chord is, in its own mode."""
    if chord.cls not in STABLE:
        return None
    return chord.root, MINOR if chord.cls == MIN else MAJOR


def _rest_of(chord: Stretch) -> Candidate | None:
    """The key in which a chord can rest: its own, or in major for the dominant seventh of the blues."""
    return (chord.root, MAJOR) if chord.cls == DOM else _key_of(chord)


def _tonic_facts(survey: _Survey) -> Iterator[_Own]:
    """How much of the tune each tonic fills."""
    for chord in survey.chords:
        key = _key_of(chord)
        if key is not None:
            yield key, ("tonic share",), _SHARE * chord.duration / survey.total


def _end_facts(chords: Sequence[Stretch]) -> Iterator[_Own]:
    """Which tonics stand at the ends, and whether the last chord leads back to one."""
    for last, name in ((2, "tonic in the last two"), (5, "tonic in the last five")):
        for key in {_rest_of(chord) for chord in chords[-last:]}:
            if key is not None:
                yield key, (name,), 1.0
    both = _rest_of(chords[0])
    if both is not None and both == _rest_of(chords[-1]):
        yield both, ("tonic at both ends",), 1.0
    first, near, end = _key_of(chords[0]), {_key_of(chord) for chord in chords[-3:]}, chords[-1]
    led_to = ((end.root + 5) % 12, (end.root + 11) % 12) if end.cls in (DOM, SUS) else ()
    for key in CANDIDATES:
        yield key, ("ends", key == first, key in near, key[0] in led_to), 1.0


def _arrival_facts(survey: _Survey, moves: Sequence[tuple[Stretch, Stretch]]) -> Iterator[_Own]:
    """Dominants that arrive at a tonic, there or on a line of the form, and the ii before a dominant."""
    each = 1 / survey.periods
    for a, b in moves:
        fall = (b.root - a.root) % 12
        if a.cls in (DOM, SUS) and fall in (5, 11):
            key, bars = _rest_of(b), b.onset / survey.beats
            if key is not None:
                yield key, ("arrival",), each
                if bars % 4 < 0.01:
                    yield key, ("arrival on four",), each
                if bars % 8 < 0.01:
                    yield key, ("arrival on eight",), each
        elif a.cls in (MIN, HALF) and b.cls in (DOM, SUS) and fall == 5:
            for mode in (MAJOR, MINOR):
                yield ((b.root + 5) % 12, mode), ("two five", a.cls), each


def _cadence_facts(survey: _Survey, moves: Sequence[tuple[Stretch, Stretch]]) -> Iterator[_Own]:
    """How many of the cadences of the tune land on each tonic, and which come early or late."""
    falls = [(a, b) for a, b in moves if a.cls in (DOM, SUS) and (b.root - a.root) % 12 == 5]
    landed = [(b, key) for _, b in falls if (key := _key_of(b)) is not None]
    for goal, key in landed:
        yield key, ("share of cadences",), 1 / len(landed)
        if goal.onset < survey.total * 0.3:
            yield key, ("early cadence",), 0.5
        if goal.onset > survey.total * 0.75 or goal is survey.chords[0]:
            yield key, ("late cadence",), 0.5


def _final_facts(moves: Sequence[tuple[Stretch, Stretch]]) -> Iterator[_Own]:
    """The last cadence; one to a dominant seventh may be the blues, so what comes before it counts too."""
    for a, b in reversed(moves):
        key = _rest_of(b)
        if key is not None and a.cls in (DOM, SUS) and (b.root - a.root) % 12 == 5:
            yield key, ("final cadence", b.cls), 1.0
            if b.cls != DOM:
                return
