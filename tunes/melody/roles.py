"""The role of every note: ordered rules, each a test of a note and its neighbours.

A test gets the melody as columns of plain numbers (`Columns`) and an index, and returns the index of the note that
this one leads to, or None. The order is that of `ORDER`: what a note does between its neighbours is asked before
what it is over the chord, and the more particular rule before the more general one.
"""

from __future__ import annotations

from collections.abc import Callable

from .columns import Columns
from .notes import CLOSE
from .tones import Tones

STEP = 2
"""Semitones of the widest step."""
FOURTH = 5
LONGEST = 1.5
"""Crotchets from one note of a figure to the next: a note that lasts longer is heard for itself."""

_NATURAL = frozenset({2, 9})
"""The 9th and the 13th, in semitones above the root."""

Test = Callable[[Columns, int], int | None]


def _step(c: Columns, a: int, b: int) -> int:
    return c.midi[b] - c.midi[a]


def _before(c: Columns, i: int) -> int | None:
    return i - 1 if i > 0 and c.joined[i - 1] else None


def _after(c: Columns, i: int) -> int | None:
    return i + 1 if c.joined[i] else None


def _fits(tones: Tones | None, midi: int) -> bool:
    return tones is not None and (midi - tones.root) % 12 in tones.inside


def held_over(c: Columns, i: int) -> int | None:
    """The same note sounded over the chord before, comes again on this one, and moves by step to a chord tone."""
    h, j = _before(c, i), _after(c, i)
    if h is None or j is None or c.midi[h] != c.midi[i] or c.chord[h] == c.chord[i] or not c.inside[h]:
        return None
    return j if 0 < abs(_step(c, i, j)) <= STEP and c.inside[j] else None


def late_step(c: Columns, i: int) -> int | None:
    """On the beat that brings a chord: a chord tone of the one before, by step to a chord tone of this one."""
    j, at = _after(c, i), c.chord[i]
    if j is None or at < 1 or not c.beat[i] or abs(c.onset[i] - c.starts[at]) > CLOSE:
        return None
    if not _fits(c.tones[at - 1], c.midi[i]) or c.chord[j] != at:
        return None
    return j if -STEP <= _step(c, i, j) < 0 and c.inside[j] else None


def held_into(c: Columns, i: int) -> int | None:
    """Off the beat, within half a beat of the next chord, a chord tone of it that sounds on or comes again there."""
    at = c.chord[i] + 1
    if at == 0 or at >= len(c.starts) or c.beat[i]:
        return None
    if not 0 < c.starts[at] - c.onset[i] <= 0.5 + CLOSE or not _fits(c.tones[at], c.midi[i]):
        return None
    j = i + 1 if i + 1 < len(c.midi) else None
    again = j is not None and c.midi[j] == c.midi[i] and abs(c.onset[j] - c.starts[at]) <= CLOSE
    sounds_on = c.end[i] >= c.starts[at] - CLOSE and (j is None or c.onset[j] > c.starts[at] + CLOSE)
    return (j if again and j is not None else i) if again or sounds_on else None


def neighbour(c: Columns, i: int) -> int | None:
    """A step away from a chord tone and back to it."""
    h, j = _before(c, i), _after(c, i)
    if h is None or j is None or c.midi[h] != c.midi[j] or not 0 < abs(_step(c, h, i)) <= STEP:
        return None
    return j if c.inside[h] and c.inside[j] else None


def passing(c: Columns, i: int) -> int | None:
    """By step from one chord tone to another, in one direction."""
    h, j = _before(c, i), _after(c, i)
    if h is None or j is None or not (c.inside[h] and c.inside[j]):
        return None
    a, b = _step(c, h, i), _step(c, i, j)
    return j if a * b > 0 and abs(a) <= STEP and abs(b) <= STEP else None


def passing_run(c: Columns, i: int) -> int | None:
    """One of two or three notes in a row, by step and in one direction, between two chord tones."""
    first, last = i, i
    j = _after(c, i)
    if j is None or not 0 < abs(_step(c, i, j)) <= STEP:
        return None
    up = _step(c, i, j) > 0
    while not c.inside[last]:
        j = _after(c, last)
        if j is None or not 0 < abs(_step(c, last, j)) <= STEP or (_step(c, last, j) > 0) != up:
            return None
        last = j
    while not c.inside[first]:
        h = _before(c, first)
        if h is None or not 0 < abs(_step(c, h, first)) <= STEP or (_step(c, h, first) > 0) != up:
            return None
        first = h
    return last if last - first - 1 <= 3 else None


def enclosure(c: Columns, i: int) -> int | None:
    """One of two notes on either side of the chord tone that follows them: each half a step away, or a step of the chord's scale.

    Where the chord tone is off the beat only the usual pairs count. A whole step from the target, a note that belongs to the chord
    where it sounds and where the target stands is heard as a skip in the chord, not as a neighbour.
    """
    for a in (i, i - 1):
        t = a + 2
        if a < 0 or t >= len(c.midi) or not (c.joined[a] and c.joined[a + 1]) or not c.inside[t]:
            continue
        x, y = _step(c, t, a), _step(c, t, a + 1)
        if x * y >= 0 or not (c.beat[t] or _usual(x, y)):
            continue
        if not (_beside(c, a, t) and _beside(c, a + 1, t)) or _lingers(c, a, t):
            continue
        if min(abs(x), abs(y)) == 1 or not (c.inside[a] or c.inside[a + 1]):
            return t
    return None


def _beside(c: Columns, a: int, t: int) -> bool:
    """Whether a note stands beside a target: half a step away, or the whole step that the scale of its chord has there."""
    size, tones = abs(_step(c, a, t)), c.over[a]
    if size != STEP or tones is None:
        return size in (1, STEP)
    if c.inside[a]:
        return not _fits(c.over[t], c.midi[a])
    return (c.midi[a] - tones.root) % 12 in tones.colours | {FOURTH}


def _lingers(c: Columns, a: int, t: int) -> bool:
    """Whether a note of a figure lasts so long that it is heard for itself."""
    return any(c.onset[k + 1] - c.onset[k] > LONGEST + CLOSE for k in range(a, t))


def _usual(first: int, second: int) -> bool:
    """A scale step above with any note below, or half steps from above and below: heard as one off the beat too."""
    return max(first, second) == STEP or (first, second) == (1, -1)


_OF_THREE = frozenset(
    tuple(side * step for step in steps)
    for side in (1, -1)
    for steps in ((-1, 2, 1), (-2, 2, 1), (2, 1, -1), (2, 1, -2))
)
"""Semitones from the target: two half steps towards it from one side, before or after them a step on the other side."""


def enclosure_of_three(c: Columns, i: int) -> int | None:
    """One of three notes before a chord tone: two half steps towards it on one side, and a step on the other. It lands on a beat, or on
    a note half as long again as the one before."""
    for a in (i, i - 1, i - 2):
        t = a + 3
        if a < 0 or t >= len(c.midi) or not all(c.joined[a:t]) or not c.inside[t] or not _lands(c, t):
            continue
        if _lingers(c, a, t):
            continue
        if tuple(_step(c, t, k) for k in (a, a + 1, a + 2)) in _OF_THREE:
            return t
    return None


def _lands(c: Columns, t: int) -> bool:
    """Whether a note is on a beat, or longer than the one before by half."""
    before = c.onset[t] - c.onset[t - 1]
    return c.beat[t] > 0 or t + 1 == len(c.midi) or c.onset[t + 1] - c.onset[t] >= 1.5 * before - CLOSE


def double_approach(c: Columns, i: int) -> int | None:
    """One of two half steps in one direction to a chord tone on a beat, where the line turns or has leapt, and arrives."""
    for a in (i, i - 1):
        t = a + 2
        if a < 0 or t >= len(c.midi) or not (c.joined[a] and c.joined[a + 1]) or not c.inside[t] or not c.beat[t]:
            continue
        half = _step(c, a, a + 1)
        if abs(half) == 1 and _step(c, a + 1, t) == half and not _comes_along(c, a, half) and _arrives(c, t, half):
            return t
    return None


def _comes_along(c: Columns, a: int, half: int) -> bool:
    """Whether the line already moved by step in that direction: then it runs, and does not approach."""
    h = _before(c, a)
    return h is not None and 0 < _step(c, h, a) * half <= STEP


def _arrives(c: Columns, t: int, half: int) -> bool:
    """Whether a line stops or turns at a note: it is longer than the one before, or what follows does not go on by step."""
    j = _after(c, t)
    if j is None or c.onset[j] - c.onset[t] > c.onset[t] - c.onset[t - 1] + CLOSE:
        return True
    return not 0 < _step(c, t, j) * half <= STEP


def approach(c: Columns, i: int) -> int | None:
    """Reached by leap or after a rest: a half step, or a whole step to a note on the beat, to the chord tone that follows.

    A tension that the chord can hold is heard for itself where it moves by a whole step, or stays in its chord and stands on a stronger
    beat than its target or lasts a beat. After a leap from a note outside the chord the target must be on the beat, else the two leapt notes explain themselves.
    """
    h, j = _before(c, i), _after(c, i)
    if j is None or not c.inside[j] or (h is not None and abs(_step(c, h, i)) <= STEP):
        return None
    stronger = c.beat[j] > c.beat[i]
    if h is not None and not c.inside[h] and not stronger:
        return None
    size = abs(_step(c, i, j))
    rests = c.chord[i] == c.chord[j] and (c.beat[i] > c.beat[j] or c.onset[j] - c.onset[i] >= 1 - CLOSE)
    if _stable(c, i) and (size != 1 or rests):
        return None
    return j if size == 1 or (size == STEP and stronger) else None


def approach_tension(c: Columns, i: int) -> int | None:
    """Reached by leap from a chord tone: half a step below a 9th or 13th that the chord can hold."""
    h, j = _before(c, i), _after(c, i)
    if h is None or j is None or not c.inside[h] or abs(_step(c, h, i)) <= STEP or _step(c, i, j) != 1:
        return None
    tones = c.over[j]
    return j if tones is not None and (c.midi[j] - tones.root) % 12 in tones.colours & _NATURAL else None


def _stable(c: Columns, i: int) -> bool:
    """A chord tone, or a tension that the chord can hold."""
    tones = c.over[i]
    return tones is not None and (c.inside[i] or (c.midi[i] - tones.root) % 12 in tones.colours)


def passing_tension(c: Columns, i: int) -> int | None:
    """By step between notes that the chord can hold, at least one of them a tension."""
    h, j = _before(c, i), _after(c, i)
    if h is None or j is None or not (_stable(c, h) and _stable(c, j)):
        return None
    a, b = _step(c, h, i), _step(c, i, j)
    return j if a * b > 0 and abs(a) <= STEP and abs(b) <= STEP else None


def neighbour_tension(c: Columns, i: int) -> int | None:
    """A step away from a tension and back to it."""
    h, j = _before(c, i), _after(c, i)
    if h is None or j is None or c.midi[h] != c.midi[j] or not 0 < abs(_step(c, h, i)) <= STEP:
        return None
    return j if _stable(c, h) and _stable(c, j) else None


def escape(c: Columns, i: int) -> int | None:
    """A step away from a chord tone, then a leap to another."""
    h, j = _before(c, i), _after(c, i)
    if h is None or j is None or not (c.inside[h] and c.inside[j]):
        return None
    return h if 0 < abs(_step(c, h, i)) <= STEP < abs(_step(c, i, j)) else None


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
    ("passing-run", passing_run), ("double-approach", double_approach), ("approach", approach), ("approach-tension", approach_tension), ("tension", tension),
    ("of-the-two", of_the_two), ("passing-tension", passing_tension), ("neighbour-tension", neighbour_tension), ("escape", escape),
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
