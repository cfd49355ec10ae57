"""Notes of a chord that come late or early: tests of `roles`."""

from __future__ import annotations

from .beside import STEP, after, before, fits, step
from .columns import Columns
from .notes import CLOSE


def held_over(c: Columns, i: int) -> int | None:
    """The same note sounded over the chord before, comes again on this one, and moves by step to a chord tone."""
    h, j = before(c, i), after(c, i)
    if h is None or j is None or c.midi[h] != c.midi[i] or c.chord[h] == c.chord[i] or not c.inside[h]:
        return None
    return j if 0 < abs(step(c, i, j)) <= STEP and c.inside[j] else None


def late_step(c: Columns, i: int) -> int | None:
    """On the beat that brings a chord: a chord tone of the one before, by step to a chord tone of this one."""
    j, at = after(c, i), c.chord[i]
    if j is None or at < 1 or not c.beat[i] or abs(c.onset[i] - c.starts[at]) > CLOSE:
        return None
    if not fits(c.tones[at - 1], c.midi[i]) or c.chord[j] != at:
        return None
    return j if -STEP <= step(c, i, j) < 0 and c.inside[j] else None


def held_into(c: Columns, i: int) -> int | None:
    """Off the beat, within half a beat of the next chord, a chord tone of it that sounds on or comes again there."""
    at = c.chord[i] + 1
    if at == 0 or at >= len(c.starts) or c.beat[i]:
        return None
    if not 0 < c.starts[at] - c.onset[i] <= 0.5 + CLOSE or not fits(c.tones[at], c.midi[i]):
        return None
    j = i + 1 if i + 1 < len(c.midi) else None
    again = j is not None and c.midi[j] == c.midi[i] and abs(c.onset[j] - c.starts[at]) <= CLOSE
    sounds_on = c.end[i] >= c.starts[at] - CLOSE and (j is None or c.onset[j] > c.starts[at] + CLOSE)
    return (j if again and j is not None else i) if again or sounds_on else None
