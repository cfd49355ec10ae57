"""Marks given to many sheets at once: an answer accepted for everyone, a step marked again with an overruled key."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods, require_POST

from studio.access import instructor_required
from studio.requests import MemberRequest
from studio.web import paginate, render_part

from ..access import steps_led
from ..bars import Bars
from ..forms import AcceptForm
from ..kinds import QUIZ
from ..models import AcceptedAnswer, Step
from ..selectors.accepted import Acceptance, Wrote, acceptance
from ..selectors.old_keys import remarking
from ..selectors.quiz import bars_of_step
from ..services.accepted import accept_answer, take_back
from ..services.assign import Stale
from ..services.mark_again import mark_again as write_again
from .query import words_of


@instructor_required
@require_http_methods(["GET", "POST"])
def mark_again(request: MemberRequest, pk: int) -> HttpResponse:
    """Whose mark would change with the key as the chart stands now; one press applies it."""
    step = _asked_step(request, pk)
    problem = ""
    if request.method == "POST":
        try:
            count = write_again(
                step=step,
                by=request.user,
                stamp=request.POST.get("stamp", ""),
                only_up=request.POST.get("which") == "up",
            )
        except Stale:
            problem = (
                "Something has changed since you opened this page. This is how it stands now: look, then press again."
            )
        else:
            messages.success(
                request,
                f"Marked again: {count} mark{'' if count == 1 else 's'} changed. The old ones stay beside them.",
            )
            return redirect("work:ensemble-sheet", pk)
    found, bars = remarking(step), bars_of_step(step)
    context = {
        "step": step,
        "found": found,
        "problem": problem,
        "changes": [(bars.name(q), q) for q in found.changed],
        "page": paginate(request, [(bars.name(row.question), row) for row in found.marks]),
        "ups": sum(row.up for row in found.marks),
        "downs": sum(not row.up for row in found.marks),
    }
    status = 409 if problem else 200
    return render_part(
        request, "assessments/mark_again.html", "assessments/_mark_again_marks.html", context, status=status
    )


@instructor_required
@require_http_methods(["GET", "POST"])
def accept(request: MemberRequest, pk: int) -> HttpResponse:
    """Accept one answer for everyone of the ensemble who wrote it: whom and which bars are shown before it counts."""
    step = _asked_step(request, pk)
    data = request.POST if request.method == "POST" else request.GET
    found = acceptance(step, words_of(data, "question", 40), words_of(data, "answer", 400))
    if found is None or not found.answer:
        raise Http404("No such answer.")
    form = AcceptForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        chosen = form.cleaned_data
        count = accept_answer(
            step=step,
            question=found.here["id"],
            answer=found.answer,
            points=chosen["points"],
            reason=chosen["reason"],
            by=request.user,
            everywhere=chosen["where"] == "same",
        )
        messages.success(request, f"Accepted: “{found.answer}”. {count} mark{'' if count == 1 else 's'} changed.")
        return redirect("work:ensemble-sheet", pk)
    bars = bars_of_step(step)
    context = {
        "step": step,
        "found": found,
        "form": form,
        "bar": bars.name(found.here),
        "choices": choices(found, bars),
        "many": len(found.same) > 1,
        "page": paginate(request, _whose(found, bars)),
    }
    status = 422 if form.errors else 200
    return render_part(
        request, "assessments/accept_answer.html", "assessments/_accept_whose.html", context, status=status
    )


def choices(found: Acceptance, bars: Bars) -> list[dict[str, Any]]:
    """What each choice of the form concerns: which bars, whom, how many marks and players."""
    rows, places = [], {q["id"]: bars.name(q) for q in found.same}
    for value, everywhere in (("here", False), ("same", True)):
        whose = found.whose(everywhere)
        rows.append(
            {
                "value": value,
                "bars": bars.names(found.at(everywhere)),
                "marks": len(whose),
                "players": len({row.attempt.player_id for row in whose}),
                "whose": [(row.attempt, places[row.question], row.points) for row in whose],
            }
        )
    return rows if len(found.same) > 1 else rows[:1]


def _whose(found: Acceptance, bars: Bars) -> list[tuple[Wrote, str]]:
    places = {q["id"]: bars.name(q) for q in found.same}
    return [(row, places[row.question]) for row in found.wrote]


@instructor_required
@require_POST
def accepted_back(request: MemberRequest, pk: int) -> HttpResponse:
    """Accept an answer no more: the marks that stood before come back."""
    accepted = get_object_or_404(
        AcceptedAnswer.objects.select_related("step__assignment"), pk=pk, step__in=steps_led(request.user)
    )
    count = take_back(accepted=accepted, by=request.user)
    messages.success(
        request,
        f"“{accepted.answer}” is accepted no more. {count} mark{'' if count == 1 else 's'} changed back; what was stays on "
        "the sheets as history.",
    )
    return redirect("work:ensemble-sheet", accepted.step_id)


def _asked_step(request: HttpRequest, pk: int) -> Step:
    step: Step = get_object_or_404(steps_led(request.user), pk=pk)
    if step.about.how != QUIZ:
        raise Http404("This step asks no questions.")
    return step
