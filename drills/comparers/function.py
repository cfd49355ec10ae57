"""Marks the function of one chord against its stored key.

Every way to read the answer (the key typed in front, the expected key, the key in force, the home key; a stroke before
the goal or before the bass) and every relation that holds is a candidate; the best paid one counts.  So being more
lenient never lowers a mark.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from drills.comparers.function_feedback import feedback
from drills.comparers.types import Context, Echo, Mark, StoredKey, Strictness
from drills.marking_rules import ALTERNATIVE_POINTS, OPEN_ALTERNATIVE, points_for
from tunes.harmony.analysis.sounds import reduced_quality
from tunes.harmony.answers.basses import over_bass
from tunes.harmony.answers.closeness import Closeness, as_counted, compare
from tunes.harmony.answers.other_keys import from_home, from_passing
from tunes.harmony.answers.reader import Answer, AnswerReading, echo_text, read_answer
from tunes.harmony.chords import parse_symbol
from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.pitch.spelling import Key, SpellingError
from tunes.harmony.readings.function import Function

_SURE = ("exact", "equivalent")
_NUMBER_RIGHT = (*_SURE, "home-name", "passing-name", "degree-only", "degree-wrong-quality")
_NEXT_FRAMES = ("5", "sub5")
_TWOS = ("m", "m7", "m7b5")


@dataclass(frozen=True, slots=True)
class Verdict:
    """One candidate: what it earns, by which rule, in which key it was read, and which alternative it met."""

    points: float
    rule: str
    key: Key
    alternative: int | None = None


@dataclass(frozen=True, slots=True)
class _Asked:
    """The stored key of one chord, read."""

    stored: StoredKey
    key: Key
    home: Key
    expected: Function
    passing: tuple[Key, ...]
    strictness: Strictness
    due: bool

    def points(self, rule: str) -> float:
        return points_for(rule, self.strictness.quality)


def echo_function(text: str, context: Context) -> Echo:
    """The echo of one field, in the key and pitch the player reads."""
    reading = read_answer(text, context.shown_key)
    if reading.problem is not None or reading.answer is None:
        problem = reading.problem
        return Echo(reading.echo, problem is None, problem.start if problem else 0, problem.end if problem else 0)
    key = reading.key or context.shown_key
    answer = as_counted(reading.answer, key)
    symbol = parse_symbol(context.chord).symbol if context.chord else None
    if symbol is not None and symbol.bass is not None and key is not None:
        for body, fits in over_bass(reading.answer, symbol, key):
            if fits:
                return Echo(f"{echo_text(body, key, quality=context.quality)}, over {symbol.bass.display}", True)
    return Echo(echo_text(answer, key, quality=context.quality), True)


def mark_function(key: StoredKey, text: str, strictness: Strictness, context: Context) -> Mark:
    """The mark of one function."""
    if not text.strip():
        return Mark(0.0, "blank", feedback("blank", key, None, None, context), "")
    asked = _asked(key, strictness, context)
    reading = read_answer(text, context.shown_key or asked.key.transposed(context.interval))
    if reading.answer is None:
        said = reading.echo
        return Mark(0.0, "unreadable", f"{said} {feedback('unreadable', key, None, None, context)}", "")
    best = max(_verdicts(asked, reading, context), key=lambda verdict: verdict.points)
    understood = read_answer(text, best.key.transposed(context.interval)).echo
    words = feedback(best.rule, key, reading.answer, best.key, context, best.alternative)
    return Mark(round(best.points, 2), best.rule, words, understood)


def _asked(key: StoredKey, strictness: Strictness, context: Context) -> _Asked:
    own = Key.parse(key["key"])
    return _Asked(
        key, own, Key.parse(key.get("home") or key["key"]), Function.from_json(key["expected"]),
        tuple(Key.parse(text) for text in key.get("passing") or ()), strictness, _key_is_due(key, strictness, context),
    )  # fmt: skip


def _verdicts(asked: _Asked, reading: AnswerReading, context: Context) -> Iterator[Verdict]:
    assert reading.answer is not None
    unnamed = asked.due and reading.key is None
    for given_key in _keys_to_try(reading, asked, context):
        if not reading.answer.bass:
            yield from _named(asked, reading.answer, given_key, unnamed)
        yield from _with_a_bass(asked, reading.answer, given_key, context)
    if reading.answer.stroke and reading.answer.bass and reading.key is None:
        goal = _key_of(reading.answer.bass)  # V7/D: the chord aimed at, by its name
        if goal is not None:
            yield from _named(asked, reading.answer, goal.transposed(-context.interval), unnamed)


def _named(asked: _Asked, given: Answer, given_key: Key, unnamed: bool) -> Iterator[Verdict]:
    """What an answer earns as the name of a function, counted in one key."""
    found = compare(given, asked.expected, given_key, asked.key)
    rule = _rule(found, asked.strictness)
    points = asked.points(rule)
    if unnamed and given_key == asked.key and points > asked.points("key-not-named"):
        rule, points = "key-not-named", asked.points("key-not-named") * points
    yield Verdict(points, rule, given_key)
    if given_key != asked.key:
        yield from _from_another_key(asked, given, given_key)
    yield from _alternatives(asked, given, given_key, unnamed)
    yield from _beside(asked, given, given_key)


def _from_another_key(asked: _Asked, given: Answer, given_key: Key) -> Iterator[Verdict]:
    """The right name as the home key, or a key that passes, has it."""
    passing = from_passing(given, given_key, asked.expected, asked.key, asked.passing)
    home = from_home(given, given_key, asked.expected, asked.key) if given_key == asked.home else None
    for found, name in ((home, "home-name"), (passing, "passing-name")):
        if found is None:
            continue
        rule = _rule(found, asked.strictness)
        points = asked.points(rule)
        if found.relation in _SURE and rule in _SURE:
            rule = "key-not-named" if asked.due else name
            points = asked.points(rule)
        yield Verdict(points, rule, given_key)


def _with_a_bass(asked: _Asked, given: Answer, given_key: Key, context: Context) -> Iterator[Verdict]:
    """What an answer earns as a chord over a bass (I/5, IV/V); a stroke is one only where the chord has a bass."""
    symbol = parse_symbol(asked.stored["chord"]).symbol
    if symbol is None or not (given.bass or symbol.bass):
        return
    move = context.interval
    for body, fits in over_bass(given, symbol.transposed(move), given_key.transposed(move)):
        upper = _rule(compare(body, _upper(symbol, given_key), given_key, given_key), asked.strictness)
        found = [*_named(asked, body, given_key, False)]
        if upper in _NUMBER_RIGHT and symbol.bass:
            found.append(Verdict(asked.points(upper), upper, given_key))
        for one in found:
            if fits:
                yield one
            elif one.rule in _NUMBER_RIGHT:
                yield Verdict(min(one.points, asked.points("other-bass")), "other-bass", given_key)


def _upper(symbol: ChordSymbol, key: Key) -> Function:
    """The chord above the bass by its own degree."""
    return Function(key.degree_of(symbol.root), reduced_quality(symbol), "colour", "chromatic")


def _key_of(note: str) -> Key | None:
    try:
        return Key.parse(note)
    except SpellingError:
        return None


def _key_is_due(key: StoredKey, strictness: Strictness, context: Context) -> bool:
    """Whether a key had to be written in front: a new area begins and the player is not yet in it."""
    if not (strictness.key_prefix and key.get("new_area")):
        return False
    force = context.concert_key
    return force is None or (force.tonic.pc, force.mode) != (Key.parse(key["key"]).tonic.pc, Key.parse(key["key"]).mode)


def _keys_to_try(reading: AnswerReading, asked: _Asked, context: Context) -> tuple[Key, ...]:
    if reading.key is not None:
        return (reading.key.transposed(-context.interval),)
    force = context.concert_key
    return tuple(dict.fromkeys((asked.key, *([force] if force else []), asked.home)))


def _rule(found: Closeness, strictness: Strictness) -> str:
    """The row of the marking table for a relation and what is known of the quality."""
    if found.relation == "equivalent" and found.quality == "open" and strictness.quality:
        return "degree-only"
    if found.relation != "exact":
        return found.relation
    if found.quality == "wrong" or (found.quality == "case" and strictness.quality):
        return "degree-wrong-quality"
    return "degree-only" if found.quality == "open" and strictness.quality else "exact"


def _alternatives(asked: _Asked, given: Answer, given_key: Key, unnamed: bool) -> Iterator[Verdict]:
    strictness = asked.strictness
    worth = ALTERNATIVE_POINTS[strictness.alternatives]
    for place, other in enumerate(asked.stored.get("alternatives") or ()):
        found = compare(given, Function.from_json(other["function"]), given_key, Key.parse(other["key"]))
        if found.relation not in _SURE or found.quality == "wrong":
            continue
        points = worth
        if strictness.quality and found.quality != "right":
            points *= OPEN_ALTERNATIVE
        if unnamed:
            points = min(points, asked.points("key-not-named"))
        yield Verdict(points, "alternative", given_key, place)


def _beside(asked: _Asked, given: Answer, given_key: Key) -> Iterator[Verdict]:
    """The chords before and after: their own names, one place off; and a 2 named by the dominant that follows it."""
    for other in asked.stored.get("neighbours") or ():
        function, key = Function.from_json(other["function"]), Key.parse(other["key"])
        found = compare(given, function, given_key, key)
        if found.relation in _SURE and found.quality != "wrong":
            yield Verdict(asked.points("adjacent"), "adjacent", given_key)
        two = given.frame == "2" and given.degree == asked.expected.degree and asked.expected.quality in _TWOS
        if two and function.of in _NEXT_FRAMES and function.target == given.target and key == given_key:
            yield Verdict(ALTERNATIVE_POINTS[asked.strictness.alternatives], "alternative", given_key)
