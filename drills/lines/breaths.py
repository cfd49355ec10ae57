"""Where a wind player breathes: at the ends of phrases, and never later than a breath lasts.

Common practice, no single source: phrases of four bars, two at slow tempos or when the line never stops; a breath
lasts about eight seconds of playing. This is a suggestion on paper, not a rule for lungs.
"""

from __future__ import annotations

import itertools
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from .line import LineBar, LineNote

BREATH_SECONDS = 8


def breath_times(bars: Sequence[LineBar], tempo: int) -> list[Fraction]:
    """Barlines to breathe at: phrase ends, or the last barline that a breath still reaches. `tempo` in crotchets."""
    reach = Fraction(BREATH_SECONDS * tempo, 60)
    times: list[Fraction] = []
    since = Fraction(0)
    for bar, after in itertools.pairwise(bars):
        too_far = after.end - since > reach
        if after.phrase or not after.joined or too_far:
            times.append(bar.end)
            since = bar.end
    return times


def with_breaths(notes: Sequence[LineNote], bars: Sequence[LineBar], tempo: int) -> list[LineNote]:
    """The same notes, the last one before each breathing place marked."""
    times = breath_times(bars, tempo)
    marked = list(notes)
    first = [i for i, note in enumerate(marked) if note.voice == 1 and note.pitch]
    ends = [marked[i].end for i in first]
    for time in times:
        at = bisect_right(ends, time) - 1
        if at >= 0 and time - ends[at] < 1:
            marked[first[at]] = replace(marked[first[at]], breath=True)
    return marked
