"""Marks the function of one chord against its stored key.

Every way to read the answer (the key typed in front, the expected key, the key in force) and every relation
that holds is a candidate; the best paid one counts.  So being more lenient never lowers a mark.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from drills.comparers.function_feedback import feedback
from drills.comparers.types import Context, Echo, Mark, StoredKey, Strictness
from drills.marking_rules import ALTERNATIVE_POINTS, OPEN_ALTERNATIVE, points_for
from tunes.harmony.answers.closeness import Closeness, compare
from tunes.harmony.answers.reader import Answer, AnswerReading, read_answer
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.function import Function

_SURE = ("exact", "equivalent")


@dataclass(frozen=True, slots=True)
class Verdict:
    """One candidate: what it earns, by which rule, in which key it was read, and which alternative it met."""

    points: float
    rule: str
    key: Key
    alternative: int | None = None


def echo_function(text: str, context: Context) -> Echo:
    """The echo of one field, in the key and pitch the player reads."""
    reading = read_answer(text, context.shown_key)
    if reading.problem is not None:
        return Echo(reading.problem.text, False, reading.problem.start, reading.problem.end)
    return Echo(reading.echo, True)


def mark_function(key: StoredKey, text: str, strictness: Strictness, context: Context) -> Mark:
    """The mark of one function."""
    if not text.strip():
        return Mark(0.0, "blank", feedback("blank", key, None, None, context), "")
    expected_key = Key.parse(key["key"])
    reading = read_answer(text, context.shown_key or expected_key.transposed(context.interval))
    if reading.answer is None:
        said = reading.echo
        return Mark(0.0, "unreadable", f"{said} {feedback('unreadable', key, None, None, context)}", "")
    best = max(_verdicts(key, reading, strictness, context), key=lambda verdict: verdict.points)
    understood = read_answer(text, best.key.transposed(context.interval)).echo
    words = feedback(best.rule, key, reading.answer, best.key, context, best.alternative)
    return Mark(round(best.points, 2), best.rule, words, understood)


def _verdicts(key: StoredKey, reading: AnswerReading, strictness: Strictness, context: Context) -> Iterator[Verdict]:
    given = reading.answer
    assert given is not None
    expected_key, expected = Key.parse(key["key"]), Function.from_json(key["expected"])
    unnamed = reading.key is None and _key_is_due(key, strictness, context)
    for given_key in _keys_to_try(reading, expected_key, strictness, context):
        found = compare(given, expected, given_key, expected_key)
        rule = _rule(found, strictness)
        points = points_for(rule, strictness.quality)
        if unnamed and given_key == expected_key and points > points_for("key-not-named", strictness.quality):
            rule, points = "key-not-named", points_for("key-not-named", strictness.quality) * points
        yield Verdict(points, rule, given_key)
        yield from _alternatives(key, given, given_key, strictness, unnamed)
        yield from _neighbours(key, given, given_key, strictness)


def _key_is_due(key: StoredKey, strictness: Strictness, context: Context) -> bool:
    """Whether a key had to be written in front: a new area begins and the player is not yet in it."""
    if not (strictness.key_prefix and key.get("new_area")):
        return False
    force = context.concert_key
    return force is None or (force.tonic.pc, force.mode) != (Key.parse(key["key"]).tonic.pc, Key.parse(key["key"]).mode)


def _keys_to_try(reading: AnswerReading, expected: Key, strictness: Strictness, context: Context) -> tuple[Key, ...]:
    if reading.key is not None:
        typed = reading.key.transposed(-context.interval)
        return (typed,)
    force = context.concert_key
    if force is None or force == expected:
        return (expected,)
    return (expected, force)


def _rule(found: Closeness, strictness: Strictness) -> str:
    """The row of the marking table for a relation and what is known of the quality."""
    if found.relation != "exact":
        return found.relation
    if found.quality == "wrong" or (found.quality == "case" and strictness.quality):
        return "degree-wrong-quality"
    return "degree-only" if found.quality == "open" and strictness.quality else "exact"


def _alternatives(
    key: StoredKey, given: Answer, given_key: Key, strictness: Strictness, unnamed: bool
) -> Iterator[Verdict]:
    worth = ALTERNATIVE_POINTS[strictness.alternatives]
    for place, other in enumerate(key.get("alternatives") or ()):
        found = compare(given, Function.from_json(other["function"]), given_key, Key.parse(other["key"]))
        if found.relation not in _SURE or found.quality == "wrong":
            continue
        points = worth
        if strictness.quality and found.quality != "right":
            points *= OPEN_ALTERNATIVE
        if unnamed:
            points = min(points, points_for("key-not-named", strictness.quality))
        yield Verdict(points, "alternative", given_key, place)


def _neighbours(key: StoredKey, given: Answer, given_key: Key, strictness: Strictness) -> Iterator[Verdict]:
    for other in key.get("neighbours") or ():
        found = compare(given, Function.from_json(other["function"]), given_key, Key.parse(other["key"]))
        if found.relation in _SURE and found.quality != "wrong":
            yield Verdict(points_for("adjacent", strictness.quality), "adjacent", given_key)

