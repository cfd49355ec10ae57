"""The questions of a step as its chart stands now: at issue, and again when the chart has been overruled."""

from __future__ import annotations

from functools import partial
from typing import Any

from drills.chord_scales import heard
from drills.questions import build
from tunes.interchange.melody import Melody
from tunes.study import StudyChart

from .models import Step


def questions_of(step: Step, study: StudyChart, melody: Melody | None, seed: int) -> list[dict[str, Any]]:
    """Question dicts with their keys, in the order of the form; the same chart and seed give the same ones. `study` is the
    chart in the key of the step (`selectors.by_ear.as_heard`)."""
    options = {"every_section": step.assignment.ask_repeats, **step.options}
    return [q.to_json() for q in build(step.kind, study, options, seed, partial(heard, study, melody))]
