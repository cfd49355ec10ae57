"""Finding a line in many melodies: every place where it comes, in any key, exact or with one note changed.

All melodies stand in one row of bytes, an interval a byte, melodies apart by a byte that no interval has. A search is
a search for bytes: for one changed note the parts before and after that note are looked up, and the two intervals
that it touches must add up to what they were.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from itertools import pairwise

_ZERO = 128
_WIDEST = 120
_APART = 0
_WIDE = {_ZERO - _WIDEST, _ZERO + _WIDEST}  # may stand for a wider leap


def _byte(interval: int) -> int:
    return max(-_WIDEST, min(_WIDEST, interval)) + _ZERO


class LineIndex:
    """The intervals of many melodies. `melodies` are MIDI pitches, one sequence a melody.

    >>> LineIndex([(60, 62, 64, 65), (67, 69, 70, 72)]).find((2, 2, 1), changed=1)
    [(0, 0), (1, 0)]
    """

    def __init__(self, melodies: Sequence[Sequence[int]]) -> None:
        self._melodies = tuple(tuple(melody) for melody in melodies)
        row = bytearray()
        self._starts: list[int] = []
        for melody in self._melodies:
            self._starts.append(len(row))
            row += bytes([_byte(b - a) for a, b in pairwise(melody)])
            row.append(_APART)
        self._row = bytes(row)

    def find(self, intervals: Sequence[int], changed: int = 0) -> list[tuple[int, int]]:
        """(melody, index of the first note) of every place, in order. changed is 0, or 1 for at most one other note.

        Raises ValueError for an empty line.
        """
        if not intervals:
            raise ValueError("a line needs at least two notes")
        places = set(self._literal(bytes(map(_byte, intervals))))
        if changed:
            for note in range(len(intervals) + 1):
                places.update(self._but_for(intervals, note))
        found = (self._place(at) for at in sorted(places))
        return [(m, i) for m, i in found if self._really(m, i, intervals, changed)]

    def _literal(self, wanted: bytes) -> Iterator[int]:
        row, at = self._row, -1
        while (at := row.find(wanted, at + 1)) >= 0:
            yield at

    def _but_for(self, intervals: Sequence[int], note: int) -> Iterator[int]:
        """Places where every note but one is as wanted, any pitch standing for that one."""
        row, size = self._row, len(intervals)
        code = bytes(map(_byte, intervals))
        before, after = code[: max(0, note - 1)], code[note + 1 :]
        inner = 0 < note < size
        total = intervals[note - 1] + intervals[note] + 2 * _ZERO if inner else 0
        longer = before if len(before) >= len(after) else after
        shift = 0 if longer is before else note + 1
        for hit in self._literal(longer) if longer else range(len(row)):
            at = hit - shift
            if at < 0 or at + size > len(row) or row[at : at + len(before)] != before:
                continue
            if row[at + note + 1 : at + size] != after:
                continue
            free = row[max(at, at + note - 1) : min(at + note + 1, at + size)]
            if _APART not in free and (not inner or free[0] + free[1] == total or _WIDE & set(free)):
                yield at

    def _place(self, at: int) -> tuple[int, int]:
        melody = bisect_right(self._starts, at) - 1
        return melody, at - self._starts[melody]

    def _really(self, melody: int, start: int, intervals: Sequence[int], changed: int) -> bool:
        """The definition, asked of one place: leaps wider than a byte holds are told apart here."""
        notes = self._melodies[melody][start : start + len(intervals) + 1]
        height = 0
        votes: dict[int, int] = {}
        for place, pitch in enumerate(notes):
            votes[pitch - height] = votes.get(pitch - height, 0) + 1
            height += intervals[place] if place < len(intervals) else 0
        return len(notes) == len(intervals) + 1 and max(votes.values()) >= len(notes) - changed
