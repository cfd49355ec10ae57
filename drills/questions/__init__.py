"""Questions made from a study chart, all pure; `drills.kinds` says which kinds there are."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from drills.kinds import question_kind
from drills.question_kind import Needs
from drills.questions.base import KeyJson, Options, Question, prompt_for
from tunes.harmony.pitch.spelling import NoteName

__all__ = ["KeyJson", "Options", "Question", "build", "prompt_for"]


def build(
    kind: str,
    study: Any,
    options: Options | Mapping[str, Any] | None = None,
    seed: int = 0,
    heard: Callable[[int], Sequence[NoteName]] | None = None,
) -> tuple[Question, ...]:
    """The questions of one kind on one study chart, in the order of the form.

    ``study`` has ``chart`` and ``analysis`` with the instructor's overrides already applied.  The same
    chart, options and seed give the same questions.  ``heard`` gives the notes of the reference's melody that
    count against an event (concert pitch): they overrule scales in the questions as in the lines.  Raises
    ``KeyError`` for an unknown kind.
    """
    chosen = options if isinstance(options, Options) else Options.from_json(options)
    asked = question_kind(kind)
    return asked.build(study, chosen, seed, *([heard] if asked.needs is Needs.MELODY else []))
