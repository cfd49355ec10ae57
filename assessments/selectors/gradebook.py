"""The gradebook: every player, step and attempt of an assignment, or of a whole term, as rows of a table."""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import datetime

from django.db.models import Count, Sum
from django.utils import timezone

from studio.models import User

from ..models import Assignment, Attempt, Leeway, Mark, MarkOverride, Step
from .begun import heard_by_tune, logged_on, signed_for
from .ledger import Echo, players_of, safe_cell

HEADINGS = (
    "Player",
    "E-mail",
    "Ensemble",
    "Term",
    "Assignment",
    "Tune",
    "Step",
    "Due",
    "Own date",
    "Excused",
    "Attempt",
    "State",
    "Handed in",
    "Late",
    "Mark as computed (%)",
    "Mark as it stands (%)",
    "Marks given by hand",
    "Heard or signed",
    "Hand-ins",
    "Reviewed by",
    "Reviewed",
)


def gradebook(assignments: Sequence[Assignment]) -> Iterator[str]:
    """Lines of CSV, the headings first. Per assignment: nine queries. One row for each attempt; a step without one has a row
    that says what there is instead."""
    writer = csv.writer(Echo())
    yield "\ufeff" + writer.writerow(HEADINGS)
    for assignment in assignments:
        for cells in _rows(assignment):
            yield writer.writerow([safe_cell(cell) for cell in cells])


def _rows(assignment: Assignment) -> Iterator[list[object]]:
    steps = list(assignment.steps.all())
    for step in steps:
        step.assignment = assignment
    attempts: dict[tuple[int, int], list[Attempt]] = defaultdict(list)
    rows = (
        Attempt.objects.filter(step__in=steps).select_related("player", "reviewed_by").prefetch_related("submissions")
    )
    people = {player.pk: player for player in players_of(assignment.ensemble)}
    for attempt in rows.order_by("number"):
        attempts[attempt.player_id, attempt.step_id].append(attempt)
        people.setdefault(attempt.player_id, attempt.player)  # whoever has left since
    marks = dict(Mark.objects.filter(attempt__step__in=steps).order_by().values_list("attempt").annotate(Sum("points")))
    given = dict(
        MarkOverride.objects.filter(attempt__step__in=steps)
        .order_by()
        .values_list("attempt")
        .annotate(Count("question", distinct=True))
    )
    leeways = {(row.player_id, row.step_id): row for row in Leeway.objects.filter(step__in=steps)}
    done = _without_attempts(assignment, steps)
    for player in sorted(people.values(), key=lambda person: (person.name, person.pk)):
        for step in steps:
            start = _start(player, step, leeways.get((player.pk, step.pk)))
            found = attempts.get((player.pk, step.pk), [])
            for attempt in found:
                yield start + _attempt(attempt, marks.get(attempt.pk), given.get(attempt.pk, 0))
            if not found:
                yield [*start, "", "", "", "", "", "", "", done.get((player.pk, step.pk), ""), "", "", ""]


def _start(player: User, step: Step, leeway: Leeway | None) -> list[object]:
    assignment = step.assignment
    return [
        player.name,
        player.address,
        assignment.ensemble.name,
        assignment.ensemble.term.name,
        assignment.title,
        assignment.tune.title,
        step.name,
        _when(step.due),
        _when(leeway.due) if leeway else "",
        (leeway.reason or "yes") if leeway and leeway.excused else "",
    ]


def _attempt(attempt: Attempt, computed: float | None, given: int) -> list[object]:
    first = round(100 * computed / attempt.out_of) if computed is not None and attempt.out_of else ""
    return [
        attempt.number,
        attempt.get_status_display(),
        _when(attempt.handed_in),
        "yes" if attempt.late else "",
        first,
        "" if attempt.percent is None else attempt.percent,
        given or "",
        "",
        "; ".join(str(sent) for sent in attempt.submissions.all()),
        attempt.reviewed_by.name if attempt.reviewed_by else "",
        _when(attempt.reviewed_at),
    ]


def _without_attempts(assignment: Assignment, steps: Sequence[Step]) -> dict[tuple[int, int], str]:
    """(player, step) → what there is of a step that has no attempts."""
    heard, signed = heard_by_tune([assignment], steps), signed_for([assignment])
    found = {}
    for step in steps:
        for player, done in logged_on(step, assignment, heard, signed):
            times = heard.get(assignment.tune_id, {}).get(player)
            found[player, step.pk] = (
                f"{times} of {step.times}" if step.kind == "listening" else "signed" if done else ""
            )
    return found


def _when(moment: datetime | None) -> str:
    return timezone.localtime(moment).strftime("%Y-%m-%d %H:%M") if moment else ""
