"""Figures that lead to a target from outside its chord: enclosures and approaches. Each is a test of `roles`."""

from __future__ import annotations

from .beside import STEP, after, before, fits, lands, lasts, lingers, stable, stays, step
from .columns import Columns
from .delays import late_step
from .notes import CLOSE

FOURTH = 5
"""Semitones of the 11th, a step of every scale."""
_NATURAL = frozenset({2, 9})
"""The 9th and the 13th, in semitones above the root."""


def enclosure(c: Columns, i: int) -> int | None:
    """One of two notes on either side of the target that follows them: each half a step away, or a step of the chord's scale.

    Where the target is off the beat only the usual pairs count. Of two whole steps a note that belongs to the chord is heard as a
    skip in it, not as a neighbour: the second always, the first where the second lasts a beat.
    """
    for a in (i, i - 1):
        t = a + 2
        if a < 0 or t >= len(c.midi) or not (c.joined[a] and c.joined[a + 1]) or not _is_target(c, t):
            continue
        x, y = step(c, t, a), step(c, t, a + 1)
        if x * y >= 0 or max(abs(x), abs(y)) > STEP or not (lands(c, t) or _usual(x, y)) or lingers(c, a, t):
            continue
        if not (c.inside[a] or _beside(c, a, t)) or not _beside(c, a + 1, t):
            continue
        if min(abs(x), abs(y)) == 1 or not (c.inside[a + 1] or (c.inside[a] and lasts(c, a + 1))):
            return t
    return None


def _is_target(c: Columns, t: int) -> bool:
    """A chord tone, or one of the chord before that comes late."""
    return c.inside[t] or late_step(c, t) is not None


def _beside(c: Columns, a: int, t: int) -> bool:
    """Whether a note stands beside a target: half a step away, or the whole step that the scale of its chord has there."""
    size, tones = abs(step(c, a, t)), c.over[a]
    if size != STEP or tones is None:
        return size in (1, STEP)
    if c.inside[a]:
        return not fits(c.over[t], c.midi[a])
    return (c.midi[a] - tones.root) % 12 in tones.colours | {FOURTH}


def _usual(first: int, second: int) -> bool:
    """A scale step above with any note below, or half steps from above and below: heard as one off the beat too."""
    return max(first, second) == STEP or abs(first) == abs(second) == 1


_OF_THREE = frozenset(
    tuple(side * step for step in steps)
    for side in (1, -1)
    for steps in ((-1, 2, 1), (-2, 2, 1), (2, 1, -1), (2, 1, -2))
)
"""Semitones from the target: two half steps towards it from one side, before or after them a step on the other side."""


def enclosure_of_three(c: Columns, i: int) -> int | None:
    """One of three notes before a chord tone: two half steps towards it on one side, and a step on the other.

    It lands on a beat, or on a note half as long again as the one before.
    """
    for a in (i, i - 1, i - 2):
        t = a + 3
        if a < 0 or t >= len(c.midi) or not all(c.joined[a:t]) or not c.inside[t] or not lands(c, t):
            continue
        if lingers(c, a, t):
            continue
        steps = tuple(step(c, t, k) for k in (a, a + 1, a + 2))
        alone = a if steps[0] * steps[1] < 0 else a + 2
        if steps in _OF_THREE and not (abs(step(c, t, alone)) == STEP and c.inside[alone]):
            return t
    return None


def enclosure_of_tension(c: Columns, i: int) -> int | None:
    """One of two half steps on either side of a 9th or 13th that the chord can hold and where the line stays."""
    for a in (i, i - 1):
        t = a + 2
        if a < 0 or t >= len(c.midi) or not (c.joined[a] and c.joined[a + 1]) or lingers(c, a, t):
            continue
        if abs(step(c, t, a)) != 1 or step(c, t, a + 1) != -step(c, t, a) or not stays(c, t):
            continue
        tones = c.over[t]
        if tones is not None and (c.midi[t] - tones.root) % 12 in tones.colours & _NATURAL:
            return t
    return None


def double_approach(c: Columns, i: int) -> int | None:
    """One of two half steps in one direction to a chord tone on a beat, where the line turns or has leapt, and arrives."""
    for a in (i, i - 1):
        t = a + 2
        if a < 0 or t >= len(c.midi) or not (c.joined[a] and c.joined[a + 1]) or not c.inside[t] or not lands(c, t):
            continue
        half = step(c, a, a + 1)
        if abs(half) == 1 and step(c, a + 1, t) == half and not _comes_along(c, a, half) and _arrives(c, t, half):
            return t
    return None


def _comes_along(c: Columns, a: int, half: int) -> bool:
    """Whether the line already moved by step in that direction: then it runs, and does not approach."""
    h = before(c, a)
    return h is not None and 0 < step(c, h, a) * half <= STEP


def _arrives(c: Columns, t: int, half: int) -> bool:
    """Whether a line stops or turns at a note: it is longer than the one before, or what follows does not go on by step."""
    j = after(c, t)
    if j is None or c.onset[j] - c.onset[t] > c.onset[t] - c.onset[t - 1] + CLOSE:
        return True
    return not 0 < step(c, t, j) * half <= STEP


def approach(c: Columns, i: int) -> int | None:
    """Reached by leap or after a rest: a half step to the chord tone that follows, or a whole step where that is on the beat or stays.

    A tension that the chord can hold is heard for itself where it moves by a whole step, or stays in its chord and stands on a stronger
    beat than its target or lasts a beat. After a leap from a note outside the chord the target must be on the beat or stay.
    """
    h, j = before(c, i), after(c, i)
    if j is None or not c.inside[j] or (h is not None and abs(step(c, h, i)) <= STEP):
        return None
    stronger = c.beat[j] > c.beat[i]
    if h is not None and not c.inside[h] and not (stronger or stays(c, j)):
        return None
    size = abs(step(c, i, j))
    rests = c.chord[i] == c.chord[j] and (c.beat[i] > c.beat[j] or lasts(c, i))
    if stable(c, i) and (size != 1 or rests):
        return None
    return j if size == 1 or (size == STEP and (stronger or stays(c, j))) else None


def approach_tension(c: Columns, i: int) -> int | None:
    """Reached by leap from a chord tone or after a rest: half a step below a 9th or 13th of the chord, on a stronger beat or staying."""
    h, j = before(c, i), after(c, i)
    if j is None or step(c, i, j) != 1 or not (c.beat[j] > c.beat[i] or stays(c, j)):
        return None
    if h is not None and (not c.inside[h] or abs(step(c, h, i)) <= STEP):
        return None
    tones = c.over[j]
    return j if tones is not None and (c.midi[j] - tones.root) % 12 in tones.colours & _NATURAL else None
