"""Marking: a stored key and what the player typed give points, a named rule and feedback.  Pure, no database.

`mark` and `echo` are the doors; one comparer per kind stands behind them in `drills.comparers`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from drills.comparers.by_heart import echo_by_heart, mark_by_heart
from drills.comparers.changes import echo_changes, mark_changes
from drills.comparers.form import echo_form, mark_form
from drills.comparers.function import echo_function, mark_function
from drills.comparers.guide_line import mark_guide_line
from drills.comparers.key_areas import echo_key_areas, mark_key_areas
from drills.comparers.notes import echo_notes, mark_nearest, mark_tones
from drills.comparers.scale import echo_scale, mark_scale
from drills.comparers.solo_note import echo_solo_note, mark_solo_note
from drills.comparers.types import Context, Echo, Mark, StoredKey, Strictness, context_from
from drills.marking_rules import MARKING_RULES, MarkingRule
from tunes.harmony.answers.reader import read_answer
from tunes.harmony.pitch.spelling import Interval, SpellingError

__all__ = [
    "MARKING_RULES", "Context", "Echo", "Mark", "MarkingRule", "Strictness", "echo", "key_after", "mark", "rules_for",
]  # fmt: skip

Marker = Callable[[StoredKey, str, Strictness, Context], Mark]
Echoer = Callable[[str, Context], Echo]

COMPARERS: dict[str, tuple[Marker, Echoer]] = {
    "function": (mark_function, echo_function),
    "form": (mark_form, echo_form),
    "key-areas": (mark_key_areas, echo_key_areas),
    "changes": (mark_changes, echo_changes),
    "by-heart": (mark_by_heart, echo_by_heart),
    "chord-tones": (mark_tones, echo_notes),
    "guide-tones": (mark_tones, echo_notes),
    "guide-line": (mark_guide_line, echo_notes),
    "scale": (mark_scale, echo_scale),
    "nearest": (mark_nearest, echo_notes),
    "solo-notes": (mark_solo_note, echo_solo_note),
}


def mark(
    question_kind: str,
    stored_key: Mapping[str, Any],
    answer_text: str,
    strictness: Strictness,
    context: Context | Mapping[str, Any] | None = None,
) -> Mark:
    """The mark of one answer.  Never raises on what a player typed; KeyError for an unknown kind of question."""
    marker, _ = COMPARERS[question_kind]
    return marker(stored_key, answer_text, strictness, context_from(context))


def echo(question_kind: str, text: str, context: Context | Mapping[str, Any] | None = None) -> Echo:
    """How one answer is understood.  Never says whether it is right, and never raises on what was typed.

    >>> echo("function", "V7/ii", {"key": "F major"}).text
    'V7 of ii in F: D7 → Gm7'
    """
    if not text.strip():
        return Echo("", True)
    _, echoer = COMPARERS[question_kind]
    return echoer(text, context_from(context))


def key_after(text: str, key: str, written: str = "P1") -> str:
    """The concert key in force after an answer: the one typed with it, else the one before; a goal named by its chord
    ("V7 of Fm") is no new key.

    >>> key_after("Ab: 2", "F major"), key_after("5 of Gm", "F major"), key_after("F: 2", "F major", "M6")
    ('Ab major', 'F major', 'Ab major')
    """
    read = read_answer(text)
    if read.key is None or read.local:
        return key
    try:
        return read.key.transposed(-Interval.parse(written)).text
    except SpellingError:
        return key


def rules_for(kind: str) -> tuple[MarkingRule, ...]:
    """The rows of the marking table that a kind of question can meet, in reading order."""
    return tuple(rule for rule in MARKING_RULES.values() if kind in rule.kinds or "all" in rule.kinds)
