"""A player questions a mark at its bar; an instructor answers beside what both wrote."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from drills.marking_rules import marking_rules
from studio.access import instructor_required

from ..access import objections_led, own_attempts
from ..forms import AnswerObjectionForm, ObjectForm
from ..models import Objection, Quiz
from ..selectors.accepted import acceptance
from ..selectors.quiz import bars_of_step, pitch_of, study_for, symbols_of
from ..selectors.review import sheet_of
from ..services.assign import Stale
from ..services.objections import AskedAlready, answer_objection, question_mark, questionable
from .marking import choices


@login_required
@require_POST
def ask(request: HttpRequest, pk: int) -> HttpResponse:
    """Question a mark of one's own sheet, once its marks may be seen."""
    attempt = get_object_or_404(own_attempts(request.user), pk=pk)
    if not questionable(attempt):
        raise Http404("There are no marks to question yet.")
    form = ObjectForm(request.POST)
    if not form.is_valid():
        messages.error(request, str(next(iter(form.errors.values()))[0]))
        return redirect("work:attempt", pk)
    data = form.cleaned_data
    mark = attempt.marks.filter(question=data["question"]).first()
    if mark is None:
        raise Http404("That question is not on this sheet.")
    try:
        question_mark(attempt=attempt, **data)
    except AskedAlready:
        messages.error(request, "You have asked about this bar already; the answer comes to your notices.")
    else:
        messages.success(request, "Your question has gone to your instructor. The answer comes to your notices.")
    return redirect(f"{reverse('work:attempt', args=[pk])}#row-{mark.position}")


@instructor_required
@require_http_methods(["GET", "POST"])
def page(request: HttpRequest, pk: int) -> HttpResponse:
    """One question with its bar and what both said; the answer decides what comes of it."""
    found = get_object_or_404(objections_led(request.user).select_related("attempt__step__assignment__revision"), pk=pk)
    row, bars = row_of(found), bars_of_step(found.attempt.step)
    form, problem = AnswerObjectionForm(request.POST if request.method == "POST" else None), ""
    can_accept = bool(row.mark.answer.strip()) and row.points < 1
    if request.method == "POST" and form.is_valid():
        outcome = form.cleaned_data["outcome"]
        if outcome in ("here", "same") and not can_accept:
            problem = "There is no answer to accept: the field was blank, or it has full marks already."
        else:
            try:
                return _answered(request, found, row, form.cleaned_data)
            except Stale:
                problem = "Somebody else has answered this meanwhile; what you typed is still below."
                found.refresh_from_db()
    accepted = acceptance(found.attempt.step, found.question, row.mark.answer) if can_accept else None
    return render(
        request,
        "assessments/objection.html",
        {
            "asked": found,
            "attempt": found.attempt,
            "r": row,
            "bar": bars.name(row.question),
            "pitch": pitch_of(found.attempt),
            "choices": choices(accepted, bars) if accepted else [],
            "form": form,
            "problem": problem,
            "rules": marking_rules(),
            "event": row.events[0] if row.events else None,
        },
        status=422 if form.errors or problem else 200,
    )


def row_of(found: Objection) -> Any:
    """The row of the sheet that is questioned."""
    attempt = found.attempt
    sheet = sheet_of(attempt, Quiz.objects.get(step=attempt.step_id).questions, symbols_of(study_for(attempt)))
    return next(row for row in sheet.rows if row.mark.question == found.question)


def _answered(request: HttpRequest, found: Objection, row: Any, data: dict[str, Any]) -> HttpResponse:
    outcome = "accepted" if data["outcome"] in ("here", "same") else data["outcome"]
    changed = answer_objection(
        objection=found,
        by=request.user,  # type: ignore[arg-type]
        outcome=outcome,
        answer=data["answer"],
        written=row.mark.answer,
        everywhere=data["outcome"] == "same",
    )
    if outcome == "label" and row.events:
        messages.success(request, "Answered. Overrule the reading here; then the step can be marked again.")
        return redirect("tunes:event", found.attempt.step.assignment.revision_id, row.events[0])
    more = f" {changed} mark{'' if changed == 1 else 's'} changed." if outcome == "accepted" else ""
    messages.success(request, f"Answered: {found.attempt.player.name}.{more}")
    return redirect(f"{reverse('work:queue')}?state=questions")
