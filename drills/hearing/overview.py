"""Bar by bar and chorus by chorus: where the time drifted, where the form was lost."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .alignment import Aligned
from .expected import Score
from .result import AS_WRITTEN, BarAdvice, ChorusAdvice, NoteAdvice
from .sound import Array

DRIFTED = 0.2
"""Beats off from which a bar has drifted; from `JUMPED` on the place in the form is another."""
JUMPED = 0.8
_FEW = 1 / 3


def bars_of(notes: Sequence[NoteAdvice], score: Score, aligned: Aligned, fixed: bool) -> tuple[BarAdvice, ...]:
    """Every bar that holds notes. `fixed`: a band or a click gave the tempo, so drift is told against it; otherwise
    against the take's own."""
    off = _off(score, aligned, fixed)
    rows: list[BarAdvice] = []
    for chorus, bar in sorted({(note.chorus, note.bar) for note in notes}):
        places = [k for k, note in enumerate(notes) if (note.chorus, note.bar) == (chorus, bar)]
        right = [k for k in places if notes[k].verdict == AS_WRITTEN]
        ahead = -float(np.median(off[right])) / score.beat if right else None
        moved = abs(ahead) if ahead is not None and len(right) > 1 else 0.0
        rows.append(BarAdvice(bar, chorus, len(places), len(right), None if ahead is None else round(ahead, 2) + 0.0,
                              DRIFTED < moved < JUMPED, moved >= JUMPED))  # fmt: skip
    return tuple(_with_lost(rows))


def _off(score: Score, aligned: Aligned, fixed: bool) -> Array:
    """Seconds that each note was due after where an even tempo has it."""
    due = aligned.due - aligned.warp.swing * score.half
    even = score.seconds if fixed else aligned.warp.rate * score.seconds
    off = due - even
    return np.asarray(off - np.median(off))


def _with_lost(rows: Sequence[BarAdvice]) -> list[BarAdvice]:
    """Two bars in a row of which hardly a note was heard as written: there the line was lost."""
    thin = [row.written > 1 and row.right < _FEW * row.written for row in rows]
    found = []
    for at, row in enumerate(rows):
        lost = row.lost or (
            thin[at] and any(0 <= k < len(rows) and (thin[k] or rows[k].lost) for k in (at - 1, at + 1))
        )
        found.append(
            BarAdvice(row.bar, row.chorus, row.written, row.right, row.ahead, row.drifted and not lost, bool(lost))
        )
    return found


def choruses_of(
    notes: Sequence[NoteAdvice], bars: Sequence[BarAdvice], score: Score, aligned: Aligned
) -> tuple[ChorusAdvice, ...]:
    """Every chorus with the tempo it was played at."""
    found = []
    for chorus in range(1, score.choruses + 1):
        places = [k for k, note in enumerate(notes) if note.chorus == chorus]
        right = [k for k in places if notes[k].verdict == AS_WRITTEN]
        lost = tuple(bar.bar for bar in bars if bar.chorus == chorus and bar.lost)
        found.append(ChorusAdvice(chorus, len(places), len(right), _tempo(right, score, aligned), lost))
    return tuple(found)


def _tempo(right: Sequence[int], score: Score, aligned: Aligned) -> float | None:
    """Crotchets a minute through the notes heard as written; None under two bars of them."""
    if len(right) < 6:
        return None
    starts = np.array([score.notes[k].start for k in right])
    if np.ptp(starts) < 6:
        return None
    slope = float(np.polyfit(starts, aligned.due[right], 1)[0])
    return round(60 / slope, 1) if slope > 0 else None
