"""The vocabulary searched: by words, by functions, by degrees in a row, by contour, by notes played on the page. Pure but for `found`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from django.db.models import QuerySet

from drills import kept_lines
from drills.models import KeptLine
from drills.services.lines import heights_of

MOST_NOTES = 40
FEWEST_CHANGED = 4
"""Intervals from which one changed note is looked for: fewer, and nearly everything would be near."""
_DEGREE = re.compile(r"[b#♭♯]*\d{1,2}")
_WAYS = {"up": 1, "u": 1, "+": 1, "/": 1, "down": -1, "d": -1, "-": -1, "−": -1, "\\": -1, "same": 0, "s": 0, "=": 0}


@dataclass(frozen=True)
class Asked:
    """What is looked for. `problem` names the field that could not be read and what to type; it is then left out."""

    words: str = ""
    functions: str = ""
    degrees: tuple[str, ...] = ()
    contour: tuple[int, ...] = ()
    played: tuple[int, ...] = ()
    problem: str = ""

    @property
    def intervals(self) -> tuple[int, ...]:
        return tuple(b - a for a, b in pairwise(self.played))


def read(data: Any) -> Asked:
    """What the form sends: `q`, `functions`, `degrees` ("3 b9 1"), `contour` ("up up down"), `played` ("60 64 67")."""
    problems = []
    degrees = _words(data.get("degrees", ""))
    if not all(_DEGREE.fullmatch(word) for word in degrees):
        problems.append("Degrees are written like 3 b9 1")
        degrees = []
    ways = [_WAYS.get(word.lower()) for word in _words(data.get("contour", ""))]
    if None in ways:
        problems.append("The contour is written with up, down and same")
        ways = []
    notes = _words(data.get("played", ""))
    if not all(word.isascii() and word.isdigit() and int(word[:4]) < 128 for word in notes):
        problems.append("Notes are played on the keys, or written as MIDI numbers")
        notes = []
    return Asked(
        " ".join(_words(data.get("q", "")))[:80], data.get("functions", "")[:200],
        tuple(word.replace("b", "♭").replace("#", "♯") for word in degrees), tuple(way for way in ways if way is not None),
        tuple(int(note) for note in notes), ". ".join(problems),
    )  # fmt: skip


def _words(text: str) -> list[str]:
    return text.replace(",", " ").replace("\x00", "").split()[:MOST_NOTES]


def found(rows: QuerySet[KeptLine], asked: Asked) -> tuple[list[KeptLine], dict[int, str]]:
    """The lines that hold all that is asked, exact ones first, and how near a played line is, by line. One query."""
    rows = kept_lines.search(rows, asked.words)
    if asked.functions:
        rows = rows.filter(pattern=asked.functions)
    near: dict[int, str] = {}
    kept = []
    for row in rows:
        if asked.degrees and f" {' '.join(asked.degrees)} " not in row.degrees:
            continue
        if asked.contour or asked.intervals:
            heights = heights_in(row)
            if asked.contour and not holds(signs(heights), asked.contour):
                continue
            if asked.intervals:
                how = nearness([b - a for a, b in pairwise(heights)], asked.intervals)
                if not how:
                    continue
                near[row.pk] = how
        kept.append(row)
    return sorted(kept, key=lambda row: near.get(row.pk, "") == CHANGED), near


def heights_in(row: KeptLine) -> list[int]:
    """Semitones of each note above the first; a line that was kept before they were is read from its notes."""
    return [int(word) for word in (row.heights or heights_of(kept_lines.line_of(row))).split()]


def signs(heights: Sequence[int]) -> list[int]:
    """Which way each step goes.

    >>> signs([0, 3, 3, 1])
    [1, 0, -1]
    """
    return [(b > a) - (b < a) for a, b in pairwise(heights)]


def holds(row: Sequence[int], wanted: Sequence[int]) -> bool:
    """Whether a row holds another in one stretch."""
    return any(list(row[at : at + len(wanted)]) == list(wanted) for at in range(len(row) - len(wanted) + 1))


EXACT, CHANGED = "as played", "one note changed"


def nearness(row: Sequence[int], wanted: Sequence[int]) -> str:
    """How a row of intervals holds another: exactly, with one note changed (two neighbouring intervals that add up alike, or the
    first or last one other), or "" not at all.

    >>> nearness([4, 3, 3, -1], [4, 3]), nearness([4, 3, 3, -1], [4, 2, 4, -1]), nearness([4, 3], [-4, 3])
    ('as played', 'one note changed', '')
    """
    if holds(row, wanted):
        return EXACT
    if len(wanted) < FEWEST_CHANGED:
        return ""
    for at in range(len(row) - len(wanted) + 1):
        part = row[at : at + len(wanted)]
        apart = [n for n, (a, b) in enumerate(zip(part, wanted, strict=True)) if a != b]
        ends = len(apart) == 1 and apart[0] in (0, len(wanted) - 1)
        inner = len(apart) == 2 and apart[1] == apart[0] + 1 and sum(part) == sum(wanted)
        if ends or inner:
            return CHANGED
    return ""
