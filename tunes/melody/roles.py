"""The role of every note: ordered rules, each a test of a note and its neighbours.

A test gets the melody as columns of plain numbers (`Columns`) and an index, and returns the index of the note that
this one leads to, or None. The order is that of `ORDER`: what a note does between its neighbours is asked before
what it is over the chord, and the more particular rule before the more general one.
"""

from __future__ import annotations

from collections.abc import Callable

from .beside import STEP, after, before, stable, step
from .columns import Columns
from .delays import held_into, held_over, late_step
from .figures import (
    FOURTH,
    approach,
    approach_tension,
    double_approach,
    enclosure,
    enclosure_of_tension,
    enclosure_of_three,
)

LONGEST_RUN = 4
"""Different notes between the two chord tones of a run."""

Test = Callable[[Columns, int], int | None]


def neighbour(c: Columns, i: int) -> int | None:
    """A step away from a chord tone and back to it."""
    h, j = before(c, i), after(c, i)
    if h is None or j is None or c.midi[h] != c.midi[j] or not 0 < abs(step(c, h, i)) <= STEP:
        return None
    return j if c.inside[h] and c.inside[j] else None


def passing(c: Columns, i: int) -> int | None:
    """By step from one chord tone to another, in one direction."""
    h, j = before(c, i), after(c, i)
    if h is None or j is None or not (c.inside[h] and c.inside[j]):
        return None
    a, b = step(c, h, i), step(c, i, j)
    return j if a * b > 0 and abs(a) <= STEP and abs(b) <= STEP else None


def passing_run(c: Columns, i: int) -> int | None:
    """One of up to four notes in a row, by step and in one direction, between two chord tones.

    A note that comes again is one note of them.
    """
    for up in (1, -1):
        last, ahead = _walk(c, i, after, up)
        first, behind = _walk(c, i, before, -up)
        if last is None or first is None or c.midi[first] == c.midi[last]:
            continue
        if ahead + behind - 1 <= LONGEST_RUN:
            return last
    return None


def _walk(c: Columns, i: int, beside: Callable[[Columns, int], int | None], way: int) -> tuple[int | None, int]:
    """From a note by step in one direction to the next chord tone: its index, and how many steps it takes."""
    at, steps = i, 0
    while not c.inside[at]:
        there = beside(c, at)
        if there is None or not 0 <= step(c, at, there) * way <= STEP:
            return None, steps
        steps += c.midi[there] != c.midi[at]
        at = there
    return at, steps


def passing_tension(c: Columns, i: int) -> int | None:
    """By step between notes that the chord can hold, at least one of them a tension."""
    h, j = before(c, i), after(c, i)
    if h is None or j is None or not (stable(c, h) and stable(c, j)):
        return None
    a, b = step(c, h, i), step(c, i, j)
    return j if a * b > 0 and abs(a) <= STEP and abs(b) <= STEP else None


def neighbour_tension(c: Columns, i: int) -> int | None:
    """A step away from a tension and back to it."""
    h, j = before(c, i), after(c, i)
    if h is None or j is None or c.midi[h] != c.midi[j] or not 0 < abs(step(c, h, i)) <= STEP:
        return None
    return j if stable(c, h) and stable(c, j) else None


def escape(c: Columns, i: int) -> int | None:
    """A step away from a chord tone, then a leap to another."""
    h, j = before(c, i), after(c, i)
    if h is None or j is None or not (c.inside[h] and c.inside[j]):
        return None
    return h if 0 < abs(step(c, h, i)) <= STEP < abs(step(c, i, j)) else None


def of_the_two(c: Columns, i: int) -> int | None:
    """Over a dominant, the 11th that it does not resolve: the third of the minor chord that goes with it."""
    tones = c.over[i]
    if tones is None or tones.cls != "dominant":
        return None
    return i if (c.midi[i] - tones.root) % 12 == FOURTH else None


def tension(c: Columns, i: int) -> int | None:
    """A note that the chord can hold."""
    tones = c.over[i]
    return i if tones is not None and (c.midi[i] - tones.root) % 12 in tones.colours else None


ORDER: tuple[tuple[str, Test], ...] = (
    ("held-over", held_over), ("late-step", late_step), ("held-into", held_into), ("neighbour", neighbour),
    ("passing", passing), ("enclosure", enclosure), ("enclosure-of-three", enclosure_of_three),
    ("passing-run", passing_run), ("double-approach", double_approach), ("approach", approach),
    ("enclosure-of-tension", enclosure_of_tension), ("approach-tension", approach_tension), ("tension", tension),
    ("of-the-two", of_the_two), ("passing-tension", passing_tension), ("neighbour-tension", neighbour_tension),
    ("escape", escape),
)  # fmt: skip


def role_of(c: Columns, i: int) -> tuple[str, int | None]:
    """(id of the rule, index of the note it leads to or None) of one note."""
    if c.over[i] is None:
        return "no-chord", None
    if c.inside[i]:
        return "chord-tone", None
    for rule, test in ORDER:
        target = test(c, i)
        if target is not None:
            return rule, target if target != i else None
    return "open", None
