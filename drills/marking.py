"""Marking: a stored key and what the player typed give points, a named rule and feedback.  Pure, no database.

`mark` and `echo` are the doors; what stands behind them each kind says (`drills.kinds`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drills.comparers.types import Context, Echo, Mark, Strictness, context_from
from drills.kinds import question_kind
from tunes.harmony.answers.reader import read_answer
from tunes.harmony.pitch.spelling import Interval, SpellingError

__all__ = ["Context", "Echo", "Mark", "Strictness", "echo", "key_after", "mark"]


def mark(
    kind: str,
    stored_key: Mapping[str, Any],
    answer_text: str,
    strictness: Strictness,
    context: Context | Mapping[str, Any] | None = None,
) -> Mark:
    """The mark of one answer.  Never raises on what a player typed; KeyError for an unknown kind of question."""
    return question_kind(kind).mark(stored_key, answer_text, strictness, context_from(context))


def echo(kind: str, text: str, context: Context | Mapping[str, Any] | None = None) -> Echo:
    """How one answer is understood.  Never says whether it is right, and never raises on what was typed.

    >>> echo("function", "V7/ii", {"key": "F major"}).text
    'V7 of ii in F: D7 → Gm7'
    """
    if not text.strip():
        return Echo("", True)
    return question_kind(kind).echo(text, context_from(context))


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
