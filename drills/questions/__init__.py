"""Questions made from a study chart: one module per kind, all pure.

>>> "function" in KINDS
True
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

from drills.questions.base import KeyJson, Options, Question, prompt_for
from drills.questions.by_heart import build_by_heart
from drills.questions.changes import build_changes
from drills.questions.form import build_form
from drills.questions.function import build_function
from drills.questions.guide_line import build_guide_line
from drills.questions.key_areas import build_key_areas
from drills.questions.scale import build_scale
from drills.questions.solo_notes import build_solo_notes
from drills.questions.tones import build_chord_tones, build_guide_tones, build_nearest
from tunes.harmony.pitch.spelling import NoteName

__all__ = ["KINDS", "KeyJson", "Options", "Question", "build", "prompt_for"]

Builder = Callable[[Any, Options, int], tuple[Question, ...]]

KINDS: dict[str, Builder] = {
    "function": build_function,
    "form": build_form,
    "key-areas": build_key_areas,
    "changes": build_changes,
    "by-heart": build_by_heart,
    "chord-tones": build_chord_tones,
    "guide-tones": build_guide_tones,
    "guide-line": build_guide_line,
    "scale": build_scale,
    "nearest": build_nearest,
    "solo-notes": build_solo_notes,
}


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
    builder = partial(build_scale, heard=heard) if kind == "scale" else KINDS[kind]
    return builder(study, chosen, seed)
