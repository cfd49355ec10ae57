"""The player's desk: the plan for today, everything asked with a sign for each step, the week ahead."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from studio.requests import MemberRequest
from studio.web import paginate, render_part

from ..access import assignments_played, steps_shown
from ..kinds import KINDS
from ..models import Assignment
from ..selectors import desk as read
from ..selectors.offline import pages_of
from ..selectors.today import desk_of
from ..services.desk import set_habit
from ..today import CHOICES, RULES, plan, until_tomorrow, week
from .query import number_of

COLUMNS = 8  # kinds that have a column of their own on the desk; more share the last one


@login_required
@require_GET
def desk(request: HttpRequest) -> HttpResponse:
    """The plan for today in the minutes chosen, everything asked with a sign for each step, and the week ahead."""
    return render_part(request, "assessments/desk.html", "assessments/_today.html", _desk_context(request))


def _desk_context(request: HttpRequest) -> dict[str, Any]:
    today = timezone.localdate()
    found = desk_of(request.user)  # type: ignore[arg-type]
    habit = found.habit
    made = plan(found.works, habit.minutes, today, until_tomorrow(habit.left_out, today))
    days, after = week(found.falls, today)
    rows = [_row(assignment, states) for assignment, states in found.assignments]
    open_rows = sorted((row for row in rows if not row["done"]), key=lambda row: row["rank"])
    used = {s.step.kind for row in open_rows for s in row["states"]}
    columns = [kind for kind in KINDS.values() if kind.id in used]
    shown = columns if len(columns) <= COLUMNS else columns[: COLUMNS - 1]
    for row in open_rows:
        row["cells"] = [[s for s in row["states"] if s.step.kind == kind.id] for kind in shown]
        if len(shown) < len(columns):
            row["cells"].append([s for s in row["states"] if s.step.kind not in {kind.id for kind in shown}])
    return {
        "today": today, "plan": made, "days": days, "after": after, "rows": open_rows, "columns": shown,
        "more_columns": len(columns) - len(shown),
        "column_count": min(len(columns), COLUMNS), "finished": [row for row in rows if row["done"]], "habit": habit,
        "choices": CHOICES, "rules": RULES, "any_tune": bool(rows),
    }  # fmt: skip


def _row(assignment: Assignment, states: Sequence[read.StepState]) -> dict[str, Any]:
    """One line of the desk: an assignment, its steps, and the date that counts: of what is overdue, else the next one."""
    undone = [s for s in states if s.state not in (read.DONE, read.SENT) and not (s.excused or s.step.is_closed)]
    dated = sorted((s for s in undone if s.step.due), key=lambda s: s.step.due)  # type: ignore[arg-type, return-value]
    nearest = dated[0] if dated else None
    overdue = bool(nearest and nearest.overdue)
    due = nearest.step.due if nearest else None
    return {
        "assignment": assignment, "states": states, "done": bool(states) and all(s.state == read.DONE or s.excused for s in states),
        "overdue": overdue, "due": due, "days": (timezone.localdate(due) - timezone.localdate()).days if due else None,
        "rank": (not overdue, due is None, due, assignment.title) if due else (True, True, None, assignment.title),
    }  # fmt: skip


@login_required
@require_GET
def offline(request: HttpRequest) -> JsonResponse:
    """What a device keeps of today's plan, for the service worker, and whose it is."""
    return JsonResponse({"owner": str(request.user.pk), "pages": pages_of(request.user)})  # type: ignore[arg-type]


@login_required
@require_POST
def desk_habit(request: HttpRequest) -> HttpResponse:
    """Keep the minutes, signs or words, and what waits until tomorrow; answers with the plan as it is then."""
    post = request.POST
    set_habit(
        player=request.user,  # type: ignore[arg-type]
        minutes=number_of(post.get("minutes")),
        in_words={"yes": True, "no": False}.get(post.get("words", "")),
        leave_out=post.get("out", ""),
        take_back=post.get("back", ""),
    )
    if request.headers.get("HX-Request") and "words" not in post:
        return render(request, "assessments/_today.html", _desk_context(request))
    return redirect("work:desk")


@login_required
@require_GET
def every(request: MemberRequest) -> HttpResponse:
    """Every assignment that was ever asked of the player, the newest first, with its steps."""
    page = paginate(request, assignments_played(request.user).prefetch_related(steps_shown(request.user)), per_page=8)
    _, assignments = read.desk_states(request.user, list(page.object_list))
    return render(request, "assessments/every.html", {"page": page, "assignments": assignments})
