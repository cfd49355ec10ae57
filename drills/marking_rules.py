"""The marking table: every way an answer can earn points, by name.  Instructors read it as it stands.

Each kind of question brings its rows (`drills.kinds`); here is what several share, and the whole.  Points are a share of
the question (1 = all of it).  ``points`` holds where only numerals are asked, ``strict_points`` where the quality of the
chord is asked too.  The values are common practice among teachers, no source; the instructor may overrule any single mark.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from types import MappingProxyType

from drills.kinds import question_kinds
from drills.question_kind import MarkingRule, QuestionKind

OTHER = MarkingRule(
    "other",
    "Another one",
    "The answer names another function, form or note.",
    0.0,
    0.0,
    "iii for V",
)

NOTES_HEADING = "Chord tones, 3rds and 7ths, nearest note, guide-tone line, scale"
NOTE_RULES = (
    MarkingRule(
        "notes-exact",
        "The right notes",
        "Every note asked for, in any order, rightly spelled.",
        1.0,
        1.0,
        "B F for G7",
    ),
    MarkingRule(
        "notes-enharmonic",
        "Right sound, other spelling",
        "A note sounds right and is spelled as another; it earns this share of its place.",
        0.75,
        0.75,
        "Cb for the 3rd of G7",
    ),
    MarkingRule(
        "notes-missing",
        "A note is missing",
        "Each asked note earns an equal share; one that is missing earns nothing.",
        0.0,
        0.0,
        "B alone for the 3rd and 7th of G7",
    ),
    MarkingRule(
        "notes-extra",
        "A note too many",
        "Each note that does not belong costs half a share.",
        0.5,
        0.5,
        "B F A for G7",
    ),
)

_ANY = (
    MarkingRule(
        "blank",
        "Left open",
        "Nothing was written.",
        0.0,
        0.0,
        "(empty)",
    ),
    MarkingRule(
        "unreadable",
        "Could not be read",
        "What was written could not be read; the field said so at the time.",
        0.0,
        0.0,
        "hello",
    ),
)
ANY = "all"  # as a rule says that it holds for every kind


@cache
def marking_rules() -> Mapping[str, MarkingRule]:
    """Identifier → rule with the kinds that can meet it, in the order an instructor reads them. Raises `ValueError` where
    two different rows share an identifier."""
    found: dict[str, MarkingRule] = {}
    kinds: dict[str, tuple[str, ...]] = {}
    rows = [(kind.id, rule) for kind in sorted(question_kinds().values(), key=_reading) for rule in kind.table.rules]
    for kind, rule in (*rows, *((ANY, rule) for rule in _ANY)):
        if found.setdefault(rule.id, rule) != rule:
            raise ValueError(f"Two marking rules are called {rule.id!r}.")
        kinds[rule.id] = (*kinds.get(rule.id, ()), kind)
    return MappingProxyType({name: replace(rule, kinds=kinds[name]) for name, rule in found.items()})


def _reading(kind: QuestionKind) -> int:
    return kind.table.place


ALTERNATIVE_POINTS: dict[str, float] = {"full": 1.0, "part": 0.75, "none": 0.0}
OPEN_ALTERNATIVE = 0.6
"""Share kept by an accepted alternative whose quality was asked and left open."""


def points_for(rule_id: str, quality_asked: bool) -> float:
    """Points of a rule, 0..1, for numerals only or with quality."""
    rule = marking_rules()[rule_id]
    return rule.strict_points if quality_asked else rule.points
