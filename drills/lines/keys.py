"""One key, or all twelve in an order to practise them in."""

from __future__ import annotations

import random

from tunes.harmony.pitch.spelling import Interval, Key, sensible

ORDERS = ("one", "fourths", "half-steps", "whole-steps", "random")
_STEP = {"fourths": Interval.parse("P4"), "half-steps": Interval.parse("m2"), "whole-steps": Interval.parse("M2")}
WHOLE_TONE_CYCLE = 6


def key_order(start: Key, order: str, seed: int = 0) -> tuple[Key, ...]:
    """The keys of a drill, `start` first; spelled with at most six signs.

    Whole steps visit six keys, then the other six a half step higher. Raises ValueError for an unknown order.

    >>> [key.short for key in key_order(Key.parse("C"), "fourths")]
    ['C', 'F', 'Bb', 'Eb', 'Ab', 'Db', 'Gb', 'B', 'E', 'A', 'D', 'G']
    >>> [key.short for key in key_order(Key.parse("C"), "whole-steps")][5:8]
    ['Bb', 'Db', 'Eb']
    """
    if order not in ORDERS:
        raise ValueError(f"{order!r} is not an order of keys: choose one of {', '.join(ORDERS)}")
    first = sensible(start)
    if order == "one":
        return (first,)
    if order == "random":
        rest = list(key_order(first, "half-steps")[1:])
        random.Random(seed).shuffle(rest)
        return (first, *rest)
    keys = [first]
    while len(keys) < 12:
        halfway = order == "whole-steps" and len(keys) == WHOLE_TONE_CYCLE
        base = first.transposed(_STEP["half-steps"]) if halfway else keys[-1].transposed(_STEP[order])
        keys.append(sensible(base))
    return tuple(keys)
