"""What shows only over several chords: the progressions a chord belongs to, line clichés, cycles of keys, pedals.

Read off a finished analysis; functions stay as they are, a few reasons become more telling.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

from .explain import reason
from .idioms import DEGREE_NAMES, Occurrence, find_idioms
from .reading import Analysis, KeyArea, Reading
from .spelling import degree_interval

LINES = ("line-falling", "line-falling-from-7", "line-rising")
THIRD_CYCLE, PEDAL, PEDAL_TONIC, PEDAL_DOMINANT, PLANING = (
    "major-third-cycle", "pedal", "pedal-tonic", "pedal-dominant", "planing",
)  # fmt: skip
PEDALS = (PEDAL, PEDAL_TONIC, PEDAL_DOMINANT)
WORDS: dict[str, str] = {
    PEDAL: "chords over a bass that stays", PEDAL_TONIC: "chords over 1 held in the bass",
    PEDAL_DOMINANT: "chords over 5 held in the bass", PLANING: "one kind of chord moved in parallel",
}  # fmt: skip
"""What is found by more than a pattern, as players say it. Pedals: common practice; planing (parallel motion): common
practice, cf. the constant structures of Mulholland and Hojnacki (2013)."""
_PEDAL_CHORDS = 3
_PLANING_CHORDS = 3
_PLANED = ("maj7", "m7", "m6", "mmaj7", "7sus")
_FOURTH, _FIFTH = 5, 7


def with_patterns(analysis: Analysis, basses: Sequence[int | None]) -> Analysis:
    """The analysis with `patterns` and `bass` filled in. `basses` holds the pitch class of the bass of every event."""
    analysis = replace(analysis, readings=tuple(_over(reading, basses[reading.event]) for reading in analysis.readings))
    pedals = list(_pedals(analysis, basses))
    names: dict[int, list[str]] = {}
    for found in find_idioms(analysis):
        if not (found.idiom in _CADENCES and _under_one_tonic(found, pedals)):
            _add(names, _events(found, len(analysis.readings)), found.idiom)
    for first, last in _third_cycles(analysis):
        _add(names, range(first, last + 1), THIRD_CYCLE)
    for first, last, name in (*pedals, *_planings(analysis)):
        _add(names, range(first, last + 1), name)
    readings = tuple(_told(reading, tuple(names.get(reading.event, ())), basses) for reading in analysis.readings)
    return replace(analysis, readings=readings)


_CADENCES = ("cadence-major", "cadence-minor", "cadence-minor-melodic", "cadence-minor-to-major", "two-five-to-minor")


def _over(reading: Reading, bass: int | None) -> Reading:
    """The reading with the degree of its bass, where that is not the root."""
    if bass is None or bass == _root(reading):
        return reading
    return replace(reading, bass=DEGREE_NAMES[(bass - reading.key.tonic.pc) % 12])


def _root(reading: Reading) -> int:
    return (reading.key.tonic.pc + degree_interval(reading.function.degree).semitones) % 12


def _under_one_tonic(found: Occurrence, pedals: Sequence[tuple[int, int, str]]) -> bool:
    """Whether the bass is 1 from the first chord to the last: then there is no cadence in it."""
    return any(first <= found.first <= found.last <= last and name == PEDAL_TONIC for first, last, name in pedals)


def _add(names: dict[int, list[str]], events: Iterator[int] | range, name: str) -> None:
    for event in events:
        held = names.setdefault(event, [])
        if name not in held:
            held.append(name)


def _events(found: Occurrence, count: int) -> Iterator[int]:
    """The events of an occurrence, through the repeat of the form when it wraps."""
    event = found.first
    while event != found.last:
        yield event
        event = (event + 1) % count
    yield event


def _third_cycles(analysis: Analysis) -> Iterator[tuple[int, int]]:
    """Runs of three neighbouring key areas whose tonics lie a major third apart, in one direction: from the last rest
    of the first to the first rest of the last, where they are long. The middle one is left as soon as it is reached."""
    areas = analysis.areas
    for run in zip(areas, areas[1:], areas[2:], strict=False):
        steps = {(b.key.tonic.pc - a.key.tonic.pc) % 12 for a, b in itertools.pairwise(run)}
        if steps in ({4}, {8}) and _is_passed_through(analysis, run[1]):
            begins = [event for event in range(run[0].first, run[0].last + 1) if _is_home(analysis, event)]
            ends = [event for event in range(run[2].first, run[2].last + 1) if _is_home(analysis, event)]
            yield begins[-1] if begins else run[0].first, ends[0] if ends else run[2].last


def _is_passed_through(analysis: Analysis, area: KeyArea) -> bool:
    """Whether nothing but its tonic follows in an area once its tonic is reached."""
    homes = [_is_home(analysis, event) for event in range(area.first, area.last + 1)]
    return True in homes and all(homes[homes.index(True) :])


def _is_home(analysis: Analysis, event: int) -> bool:
    function = analysis.readings[event].function
    return function.degree == "1" and function.role == "tonic"


def _pedals(analysis: Analysis, basses: Sequence[int | None]) -> Iterator[tuple[int, int, str]]:
    """Runs of at least three chords in turn over one bass that is not the root of all of them: events, and which pedal."""
    start = 0
    for event in range(1, len(basses) + 1):
        if event < len(basses) and basses[event] == basses[start]:
            continue
        run = analysis.readings[start:event]
        sounds = [(_root(r), r.function.quality) for r in run]
        changes = 1 + sum(a != b for a, b in itertools.pairwise(sounds))
        roots = {root for root, _ in sounds}
        if basses[start] is not None and changes >= _PEDAL_CHORDS and len(roots) > 1:
            yield start, event - 1, _pedal_name(run, basses[start])
        start = event


def _pedal_name(run: Sequence[Reading], bass: int | None) -> str:
    """Which degree is held, when the run stays in one key."""
    degrees = {((bass or 0) - reading.key.tonic.pc) % 12 for reading in run}
    return {0: PEDAL_TONIC, _FIFTH: PEDAL_DOMINANT}.get(degrees.pop(), PEDAL) if len(degrees) == 1 else PEDAL


def _planings(analysis: Analysis) -> Iterator[tuple[int, int, str]]:
    """Runs of one kind of chord whose roots leave the key: three or more in turn, by other steps than fourths and fifths.

    Major sevenths stand a fourth apart in a key; minor sevenths a fourth or a tone. Two moves must be others than those.
    """
    for quality, group in itertools.groupby(analysis.readings, key=lambda reading: reading.function.quality):
        run = list(group)
        moves = [(_root(b) - _root(a)) % 12 for a, b in itertools.pairwise(run)]
        moves = [move for move in moves if move]
        fifths = sum(move in (_FOURTH, _FIFTH) for move in moves)
        steps = sum(move in (2, 10) for move in moves) if quality.startswith("m7") else 0
        parallel = len(moves) - fifths - steps
        if quality in _PLANED and len(moves) >= _PLANING_CHORDS - 1 and parallel >= 2 and 3 * fifths <= len(moves):
            yield run[0].event, run[-1].event, PLANING


def _told(reading: Reading, patterns: tuple[str, ...], basses: Sequence[int | None]) -> Reading:
    """The reading with its patterns, and with the reason that names one where the plain reason says less."""
    reading = replace(reading, patterns=patterns)
    function = reading.function
    if reading.rule in ("rest", "local-rest"):
        moving = _over_another_bass(reading, basses)
        reading = _retold(reading, moving, function.kind) if moving else reading
    if any(name in LINES for name in patterns) and function.role == "tonic":
        return _retold(reading, "line-cliche", "line-cliche")
    if THIRD_CYCLE in patterns and reading.rule in ("local-rest", "rest") and function.degree == "1":
        return _retold(reading, "third-cycle", "major-third-cycle")
    if any(name in PEDALS for name in patterns) and function.role in ("colour", "passing") and reading.resolves_to is None:
        return _retold(reading, "pedal", "pedal")
    if "passing-4-5" in patterns and reading.rule in ("common-tone", "climbing-on") and _bass_on_five(reading, basses):
        return _retold(reading, "passing-bass", "passing-diminished")
    return reading


def _over_another_bass(reading: Reading, basses: Sequence[int | None]) -> str:
    """The rule for a tonic that does not stand on its root: over 5, or over a bass that moves on by step."""
    here, then = basses[reading.event], basses[(reading.event + 1) % len(basses)]
    if here is None or then is None or here == reading.key.tonic.pc:
        return ""
    if here == (reading.key.tonic.pc + 7) % 12:
        return "over-five"
    return "moving-bass" if (then - here) % 12 in (1, 2, 10, 11) else ""


def _bass_on_five(reading: Reading, basses: Sequence[int | None]) -> bool:
    """Whether the next chord has degree 5 in the bass."""
    return basses[(reading.event + 1) % len(basses)] == (reading.key.tonic.pc + 7) % 12


def _retold(reading: Reading, rule: str, kind: str) -> Reading:
    function = replace(reading.function, kind=kind)
    return replace(reading, rule=rule, function=function,
                   reason=reason(rule, function.spoken, reading.key.text))  # fmt: skip
