"""The questions of a step as its chart stands now: at issue, and again when the chart has been overruled."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import Any

from drills.chord_scales import heard
from drills.kinds import question_kind
from drills.question_kind import Needs
from drills.questions import build
from drills.selectors import melody_of
from tunes.interchange.melody import Melody
from tunes.models import ChartRevision
from tunes.study import StudyChart

from .models import Step


def melody_for(revision: ChartRevision, kinds: Iterable[str]) -> Melody | None:
    """The melody of a chart where one of the kinds is made with it; one query, and none for the others."""
    return melody_of(revision) if any(question_kind(kind).needs is Needs.MELODY for kind in kinds) else None


def questions_of(step: Step, study: StudyChart, melody: Melody | None, seed: int) -> list[dict[str, Any]]:
    """Question dicts with their keys, in the order of the form; the same chart and seed give the same ones. `study` is the
    chart in the key of the step (`selectors.by_ear.as_heard`)."""
    options = {"every_section": step.assignment.ask_repeats, **step.options}
    return [q.to_json() for q in build(step.kind, study, options, seed, partial(heard, study, melody))]
