"""A phrase as somebody took it down against the notes that are kept: how much is right, and where it is not. Pure.

Notes are compared by how they sound (F sharp for G flat is right) and in order; rhythm is not asked. What is said tells
where to listen again and never which note it is. The alignment is the shortest edit path (Levenshtein, 1966).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from tunes.harmony.pitch.spelling import NoteName

SAME, OTHER, EXTRA, MISSING = "same", "other", "extra", "missing"


@dataclass(frozen=True)
class Check:
    """What came of one phrase: `right` of `notes` kept ones, and the steps of the alignment, (what, place in what was
    typed from 0)."""

    right: int
    notes: int
    steps: tuple[tuple[str, int], ...]

    @property
    def complete(self) -> bool:
        """Every note right, none too many."""
        return self.notes > 0 and all(step == SAME for step, _ in self.steps)

    @property
    def sentences(self) -> tuple[str, ...]:
        """Where to listen again, at most four places: never which note it is."""
        words = {
            OTHER: "Your note {n} is another one.",
            EXTRA: "Your note {n} is not played.",
        }
        said = []
        for (step, place), run in itertools.groupby(self.steps):
            if step == MISSING:
                said.append(_missing(place, len(list(run))))
            elif step != SAME:
                said.append(words[step].format(n=place + 1))
        return tuple(said[:4])


def _missing(place: int, count: int) -> str:
    """How many notes are missing after the note of that number; 0 for the start."""
    where = f"After your note {place}" if place else "At the start"
    return f"{where} {'one is' if count == 1 else f'{count} are'} missing."


def check(taken: Sequence[NoteName], kept: Sequence[NoteName]) -> Check:
    """Lay what was taken down beside what is kept.

    >>> notes = [NoteName.parse(text) for text in ("C", "D", "Eb", "G")]
    >>> check(notes, notes).complete, check(notes[:3], notes).right
    (True, 3)
    >>> check([notes[0], notes[3], notes[2], notes[3]], notes).sentences
    ('Your note 2 is another one.',)
    """
    mine, theirs = [note.pc for note in taken], [note.pc for note in kept]
    steps = _path(mine, theirs)
    return Check(sum(step == SAME for step, _ in steps), len(theirs), tuple(steps))


def _path(mine: Sequence[int], theirs: Sequence[int]) -> list[tuple[str, int]]:
    """The shortest way from one to the other, from the start."""
    rows, columns = len(mine) + 1, len(theirs) + 1
    cost = [[i + j if not i or not j else 0 for j in range(columns)] for i in range(rows)]
    for i in range(1, rows):
        for j in range(1, columns):
            change = cost[i - 1][j - 1] + (mine[i - 1] != theirs[j - 1])
            cost[i][j] = min(change, cost[i - 1][j] + 1, cost[i][j - 1] + 1)
    steps: list[tuple[str, int]] = []
    i, j = rows - 1, columns - 1
    while i or j:
        if i and j and cost[i][j] == cost[i - 1][j - 1] + (mine[i - 1] != theirs[j - 1]):
            i, j = i - 1, j - 1
            steps.append((SAME if mine[i] == theirs[j] else OTHER, i))
        elif i and cost[i][j] == cost[i - 1][j] + 1:
            i -= 1
            steps.append((EXTRA, i))
        else:
            j -= 1
            steps.append((MISSING, i))
    return steps[::-1]
