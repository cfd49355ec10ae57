"""From what a page names to the plan of a take: fetched as its player may see it."""

from __future__ import annotations

from typing import Any
from urllib.parse import parse_qsl

from drills import kept_lines, selectors
from drills.models import Take
from drills.sheets import Material
from drills.takes.plans import EmptyPassage, NothingToRecord, Plan, drill_plan, form_plan, line_plan_of, sight_of
from drills.wishes import Wish
from studio.access import instrument_of
from tunes.access import held_back
from tunes.study import ChartUnreadable

GONE = "What was to be played is no longer there. Keep the recording as a file and tell your instructor."


def material_of(pk: int) -> Material:
    """A chart ready for plans. Raises `NothingToRecord`."""
    found = selectors.material(pk)
    if found is None:
        raise NothingToRecord(GONE)
    try:
        found.study  # noqa: B018 (worked out here: an unreadable chart has no bars)
    except ChartUnreadable as error:
        raise NothingToRecord(str(error)) from error
    return found


def plan_named(user: Any, *, kind: str, revision: int | None, line: int | None, query: str, tempo: int) -> Plan:
    """What a recording is of. Raises `NothingToRecord`, and `Http404` for a line that the person may not see."""
    asked = dict(parse_qsl(query))
    if kind == Take.Kind.LINE:
        row, _ = kept_lines.line_or_404(user, line or 0)
        return line_plan_of(user, row, asked)
    material = material_of(revision or 0)
    instrument = instrument_of(user)
    try:
        if kind == Take.Kind.DRILL:
            is_open = not held_back(user, [material.revision.version.tune_id])
            return drill_plan(material, Wish.from_query(asked, instrument=instrument), open_analysis=is_open)
        return form_plan(material, kind, sight_of(asked, instrument), tempo=tempo)
    except EmptyPassage as error:
        raise NothingToRecord(str(error)) from error
