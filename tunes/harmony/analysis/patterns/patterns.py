"""What shows only over several chords: the progressions a chord belongs to, line clichés, cycles of keys, pedals.

Read off a finished analysis; functions stay as they are, a few reasons become more telling.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple, TypeVar

from tunes.harmony.analysis.patterns.basses import Run, held_degree, inverted, lines, member
from tunes.harmony.analysis.patterns.modes import Passage, passages
from tunes.harmony.pitch.spelling import Key, degree_interval
from tunes.harmony.progressions.idioms import DEGREE_NAMES, Occurrence
from tunes.harmony.progressions.occurrences import from_the_top, told
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.reading import Alternative, Analysis, KeyArea, Reading
from tunes.harmony.readings.reason import Args, Reason
from tunes.harmony.readings.rule_ids import RuleId

LINES = ("line-falling", "line-falling-from-7", "line-falling-by-steps", "line-falling-in-major", "line-rising")
THIRD_CYCLE, MINOR_THIRD_CYCLE, PEDAL, PEDAL_TONIC, PEDAL_DOMINANT, PLANING = (
    "major-third-cycle", "minor-third-cycle", "pedal", "pedal-tonic", "pedal-dominant", "planing",
)  # fmt: skip
PEDALS = (PEDAL, PEDAL_TONIC, PEDAL_DOMINANT)
WORDS: dict[str, str] = {
    PEDAL: "chords over a bass that stays", PEDAL_TONIC: "chords over 1 held in the bass",
    PEDAL_DOMINANT: "chords over 5 held in the bass", PLANING: "one kind of chord moved in parallel",
    MINOR_THIRD_CYCLE: "keys a minor third apart",
}  # fmt: skip
"""What is found by more than a pattern, as players say it. Pedals: common practice; planing (parallel motion): common
practice, cf. the constant structures of Mulholland and Hojnacki (2013)."""
_THIRDS = {THIRD_CYCLE: {4, 8}, MINOR_THIRD_CYCLE: {3, 9}}
_SIXTH_MARGIN = 0.5  # minor seventh over its 3rd and major sixth have the same notes
_PEDAL_CHORDS = 3
_PLANING_CHORDS = 3
_PLANED = ("maj7", "m7", "m6", "mmaj7", "7sus")
_FOURTH, _FIFTH = 5, 7


def with_patterns(analysis: Analysis, basses: Sequence[int | None]) -> Analysis:
    """The analysis with `patterns` and `bass` filled in. `basses` holds the pitch class of the bass of every event."""
    analysis = replace(analysis, readings=tuple(_over(reading, basses[reading.event]) for reading in analysis.readings))
    pedals = list(_pedals(analysis, basses))
    names: dict[int, list[str]] = {}
    for found in told(analysis):
        if not (found.idiom in _CADENCES and _under_one_tonic(found, pedals)):
            _add(names, from_the_top(found, analysis.readings), found.idiom)
    for first, last, cycle in _third_cycles(analysis):
        _add(names, range(first, last + 1), cycle)
    for first, last, name in (*pedals, *_planings(analysis)):
        _add(names, range(first, last + 1), name)
    stays = [Run(first, last, (held_degree(analysis, basses, first),)) for first, last, _ in pedals]
    moves, modal = lines(analysis, basses), passages(analysis, basses)
    for passage in modal:
        _add(names, range(passage.first, passage.last + 1), passage.tag)

    def heard(event: int) -> _Heard:
        return _Heard(_at(stays, event), _at(moves, event), _at(modal, event))

    readings = tuple(
        _told(reading, tuple(names.get(reading.event, ())), basses, heard(reading.event))
        for reading in analysis.readings
    )
    return replace(analysis, readings=readings, areas=_with_modes(analysis.areas, modal))


_S = TypeVar("_S", Run, Passage)


def _at(spans: Sequence[_S], event: int) -> _S | None:
    """The span that an event lies in."""
    return next((span for span in spans if span.first <= event <= span.last), None)


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


def _add(names: dict[int, list[str]], events: Iterable[int], name: str) -> None:
    for event in events:
        held = names.setdefault(event, [])
        if name not in held:
            held.append(name)


def _third_cycles(analysis: Analysis) -> Iterator[tuple[int, int, str]]:
    """Runs of three neighbouring key areas whose tonics lie a major or a minor third apart, in one direction: from the last rest
    of the first to the first rest of the last, where they are long. The middle one is left as soon as it is reached."""
    areas = analysis.areas
    for run in zip(areas, areas[1:], areas[2:], strict=False):
        steps = {(b.key.tonic.pc - a.key.tonic.pc) % 12 for a, b in itertools.pairwise(run)}
        cycle = next((name for name, thirds in _THIRDS.items() if len(steps) == 1 and steps <= thirds), None)
        if cycle and _is_passed_through(analysis, run[1]):
            begins = [event for event in range(run[0].first, run[0].last + 1) if _is_home(analysis, event)]
            ends = [event for event in range(run[2].first, run[2].last + 1) if _is_home(analysis, event)]
            yield begins[-1] if begins else run[0].first, ends[0] if ends else run[2].last, cycle


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

    Major sevenths stand a fourth apart in a key; minor sevenths a fourth or a tone. Two moves must be others than those, or two
    tones in turn in one direction: no key has three minor sevenths in a row by step.
    """
    alike = itertools.groupby(analysis.readings, key=lambda reading: reading.function.quality)
    for quality, run in ((quality, run) for quality, group in alike for run in _without_going_to_and_fro(list(group))):
        moves = [(_root(b) - _root(a)) % 12 for a, b in itertools.pairwise(run)]
        moves = [move for move in moves if move]
        fifths = sum(move in (_FOURTH, _FIFTH) for move in moves)
        steps = sum(move in (2, 10) for move in moves) if quality.startswith("m7") else 0
        if steps and any(a == b for a, b in itertools.pairwise(moves) if a in (2, 10)):
            steps = 0
        parallel = len(moves) - fifths - steps
        if quality in _PLANED and len(moves) >= _PLANING_CHORDS - 1 and parallel >= 2 and 3 * fifths <= len(moves):
            yield run[0].event, run[-1].event, PLANING


def _without_going_to_and_fro(run: list[Reading]) -> Iterator[list[Reading]]:
    """A run cut where it goes by fourths or fifths twice in turn, as 1 and 4 do, and without such a move at its ends."""
    by_fifth = [(_root(b) - _root(a)) % 12 in (_FOURTH, _FIFTH) for a, b in itertools.pairwise(run)]
    changes = [at for at, (a, b) in enumerate(itertools.pairwise(run)) if _root(a) != _root(b)]
    cuts = set()
    for place, at in enumerate(changes):
        beside = [changes[other] for other in (place - 1, place + 1) if 0 <= other < len(changes)]
        if by_fifth[at] and (len(beside) < 2 or any(by_fifth[other] for other in beside)):
            cuts.add(at)
    start = 0
    for at in (*sorted(cuts), len(run) - 1):
        if run[start : at + 1]:
            yield run[start : at + 1]
        start = at + 1


class _Heard(NamedTuple):
    """What the bass and the modes say of one event."""

    pedal: Run | None
    line: Run | None
    passage: Passage | None


def _told(reading: Reading, patterns: tuple[str, ...], basses: Sequence[int | None], heard: _Heard) -> Reading:
    """The reading with its patterns, and with the reason that names one where the plain reason says less."""
    reading = replace(reading, patterns=patterns)
    function = reading.function
    if heard.pedal is not None:
        reading = _over_a_pedal(reading, basses, heard.pedal)
    elif reading.rule in (RuleId.REST, RuleId.LOCAL_REST) and (
        rule := _over_another_bass(reading, basses, heard.line is not None)
    ):
        reading = _retold(reading, rule, function.kind)
    elif heard.line is not None and inverted(reading, basses) and _carries(reading):
        reading = _retold(reading, RuleId.BASS_LINE, function.kind, degrees=heard.line.degrees, falls=heard.line.falls)
    elif inverted(reading, basses) and function.kind != "no-chord":
        reading = _and(reading, RuleId.BASS_MEMBER, member(reading, basses))
    if heard.passage is not None:
        reading = _in_a_mode(reading, heard.passage)
    if any(name in LINES for name in patterns) and function.role == "tonic":
        return _retold(reading, RuleId.LINE_CLICHE, "line-cliche")
    if THIRD_CYCLE in patterns and reading.rule in (RuleId.LOCAL_REST, RuleId.REST) and function.degree == "1":
        return _retold(reading, RuleId.THIRD_CYCLE, "major-third-cycle")
    if (
        "passing-4-5" in patterns
        and reading.rule in (RuleId.COMMON_TONE, RuleId.CLIMBING_ON)
        and _bass_on_five(reading, basses)
    ):
        return _retold(reading, RuleId.PASSING_BASS, "passing-diminished")
    return reading


def _carries(reading: Reading) -> bool:
    """Whether a chord over a bass by step is told by that line: one that demands nothing, or only goes round the circle."""
    return reading.function.role in ("tonic", "subdominant", "colour", "passing") or reading.rule in (
        RuleId.FIFTHS,
        RuleId.FIFTHS_OUT,
    )


def _over_a_pedal(reading: Reading, basses: Sequence[int | None], pedal: Run) -> Reading:
    """A chord over a bass that stays is heard against it: it does not fall a fifth while the bass holds, and over 5 it
    colours the dominant that is held."""
    reading = _as_sixth(reading, basses)
    function, five = reading.function, pedal.degrees == ("5",)
    if not inverted(reading, basses):
        held = five and function.degree == "5" and function.role == "dominant" and reading.event < pedal.last
        if held and reading.resolution == "held":  # it is not taken up again: it never stops
            reading = replace(reading, resolution="onward")
        return _retold(reading, RuleId.HELD_FIVE, function.kind) if held else reading
    if function.role == "dominant" and not five:
        return _retold(reading, RuleId.PEDAL, function.kind, degrees=pedal.degrees)
    if five or function.role in ("colour", "passing"):
        reading = replace(reading, resolves_to=None, resolution="none", function=replace(function, role="colour"))
        return _retold(reading, RuleId.PEDAL, "pedal", degrees=pedal.degrees)
    return _retold(reading, RuleId.PEDAL, function.kind, degrees=pedal.degrees)


def _as_sixth(reading: Reading, basses: Sequence[int | None]) -> Reading:
    """6 as a minor seventh over 1 in the bass is also 1 with its 6th: the same four notes."""
    function = reading.function
    if function.degree != "6" or function.quality != "m7" or basses[reading.event] != reading.key.tonic.pc:
        return reading
    one = Function("1", "6", "tonic", "diatonic")
    why = Reason(rule=RuleId.REST, args=Args(key=reading.key, chord=one))
    other = Alternative(key=reading.key, function=one, margin=_SIXTH_MARGIN, reason=why)
    return replace(reading, alternatives=(other, *reading.alternatives)[:3])


def _in_a_mode(reading: Reading, passage: Passage) -> Reading:
    """The reading with the mode of its passage: the centre has it, and another chord shows its degree."""
    if _root(reading) == passage.centre.pc:
        if reading.rule in (RuleId.REST, RuleId.LOCAL_REST):
            return reading if reading.key.church else _and(reading, RuleId.IN_A_MODE, Args(passages=(passage.key,)))
        return _retold(reading, RuleId.MODE, reading.function.kind, passages=(passage.key,))
    if reading.rule == RuleId.VAMP:
        return _and(reading, RuleId.MODE_DEGREE, Args(passages=(passage.key,), shows=passage.mode.degree))
    function = replace(reading.function, role="colour")
    reading = replace(reading, resolves_to=None, resolution="none", function=function)
    return _retold(reading, RuleId.MODE, "vamp", passages=(passage.key,), shows=passage.mode.degree)


def _and(reading: Reading, rule: RuleId, args: Args) -> Reading:
    return replace(reading, reason=reading.reason.and_also(rule, args))


def _over_another_bass(reading: Reading, basses: Sequence[int | None], in_line: bool) -> RuleId | None:
    """The rule for a tonic that does not stand on its root: over 5, or over a bass that moves on by step without making
    a line."""
    here, then = basses[reading.event], basses[(reading.event + 1) % len(basses)]
    if here is None or then is None or here == reading.key.tonic.pc:
        return None
    if here == (reading.key.tonic.pc + 7) % 12:
        return RuleId.OVER_FIVE
    return RuleId.MOVING_BASS if (then - here) % 12 in (1, 2, 10, 11) and not in_line else None


def _bass_on_five(reading: Reading, basses: Sequence[int | None]) -> bool:
    """Whether the next chord has degree 5 in the bass."""
    return basses[(reading.event + 1) % len(basses)] == (reading.key.tonic.pc + 7) % 12


def _retold(
    reading: Reading, rule: RuleId, kind: str,
    degrees: tuple[str, ...] = (), falls: bool = False, passages: tuple[Key, ...] = (), shows: str = "",
) -> Reading:  # fmt: skip
    function = replace(reading.function, kind=kind)
    told = Args(key=reading.key, chord=function, degrees=degrees, falls=falls, passages=passages, shows=shows)
    return replace(reading, function=function, reason=Reason(rule=rule, args=told))


def _with_modes(areas: Sequence[KeyArea], found: Sequence[Passage]) -> tuple[KeyArea, ...]:
    """The key areas, with the modal passages in them."""
    told: list[KeyArea] = []
    for area in areas:
        inside = [passage for passage in found if area.first <= passage.first <= area.last]
        keys = tuple(dict.fromkeys(passage.key for passage in inside))
        if not keys:
            told.append(area)
            continue
        whole = len(inside) == 1 and (inside[0].first, inside[0].last) == (area.first, area.last)
        rule = RuleId.ALL_IN_MODE if whole else RuleId.MODES_IN
        told.append(replace(area, reason=area.reason.and_also(rule, Args(passages=keys))))
    return tuple(told)
