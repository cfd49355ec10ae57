"""The marking table: every way an answer can earn points, by name.  Instructors read it as it stands.

Points are a share of the question (1 = all of it).  ``points`` holds where only numerals are asked,
``strict_points`` where the quality of the chord is asked too.  All of it is common practice among
teachers, no source: the instructor may overrule any single mark.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MarkingRule:
    """One row of the table: identifier, name, one sentence, points and an example."""

    id: str
    name: str
    sentence: str
    points: float
    strict_points: float
    example: str
    kinds: tuple[str, ...] = ("function",)
    source: str = "common practice, no source"
