"""A player questions how a chord is read, at that chord; an instructor answers, and overrules if it is so."""

from __future__ import annotations

import uuid
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from studio.access import can_edit_repertoire, instructor_required
from studio.web import render_part
from tunes import selectors
from tunes.access import refuse_held_chords
from tunes.harmony.charts.bar_count import bar_count
from tunes.models import ChartRevision
from tunes.pitch import read_sight, seen
from tunes.study import ChartUnreadable, StudyChart, study_chart
from tunes.templatetags.tunes import function_text

from ..access import reading_questions_led
from ..forms import AnswerReadingForm, QuestionReadingForm
from ..models import ReadingQuestion
from ..services.assign import Stale
from ..services.objections import AskedAlready
from ..services.readings import answer_reading, question_reading


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def ask(request: HttpRequest, revision: int, event: int) -> HttpResponse:
    """What was asked about the reading of one chord, as this person may see it, and the form for another question."""
    found = get_object_or_404(selectors.revisions_for_study(), pk=revision)
    study = _open_study(request, found)
    context = chord_of(request, study, event) | {"revision": found, "tune": found.version.tune}
    form = QuestionReadingForm(request.POST if request.method == "POST" else None, initial={"token": uuid.uuid4()})
    if request.method == "POST" and form.is_valid():
        try:
            question_reading(
                revision=found,
                event=event,
                read_as=read_as(study, event),
                bar=context["bar"],
                player=request.user,  # type: ignore[arg-type]
                **form.cleaned_data,
            )
        except AskedAlready:
            form.add_error("text", "You have asked about this chord already; the answer comes to your notices.")
        else:
            messages.success(request, "Your question has gone to your instructor. The answer comes to your notices.")
            return redirect(f"{request.path}?{context['sight_query']}")
    context |= {
        "form": form,
        "asked": _asked(request.user, found, event),
        "may_edit": can_edit_repertoire(request.user),
    }
    page, part = "assessments/reading_question.html", "assessments/_reading_question.html"
    return render_part(request, page, part, context, status=422 if form.errors else 200)


def _open_study(request: HttpRequest, revision: ChartRevision) -> StudyChart:
    """The study of a revision. 403 while its functions are held back, 404 when it cannot be read."""
    if refuse_held_chords(request.user, revision.version.tune):
        raise PermissionDenied("The functions of this tune are held back until your quiz on it is handed in.")
    try:
        return study_chart(revision)
    except ChartUnreadable as problem:
        raise Http404(str(problem)) from problem


def chord_of(request: HttpRequest, study: StudyChart, event: int) -> dict[str, Any]:
    """One chord as this person sees it: its symbol, bar and reading. Raises Http404."""
    if not 0 <= event < len(study.events):
        raise Http404("No such chord.")
    sight = read_sight(request.GET, request.user)
    shown = seen(study, sight)
    return {
        "symbol": shown.events[event].symbol,
        "bar": bar_count(study.chart).name_at(event),
        "reading": shown.reading(event),
        "event": event,
        "sight_query": sight.query(),
    }


def read_as(study: StudyChart, event: int) -> str:
    """How a chord is read now, in concert pitch: "Gm7 in bar 5, ii7 in F major"."""
    symbol, reading = study.events[event].symbol, study.reading(event)
    name = symbol.display if symbol else "No chord"
    bar = bar_count(study.chart).name_at(event)
    return f"{name} in {bar}, {function_text(reading.function)} in {reading.key.display}"


def _asked(user: Any, revision: ChartRevision, event: int) -> list[ReadingQuestion]:
    """One's own questions on a chord, and those that one may answer."""
    led = reading_questions_led(user).order_by().values("pk")
    rows = ReadingQuestion.objects.filter(Q(player=user) | Q(pk__in=led), revision=revision, event=event)
    return list(rows.select_related("player", "answered_by"))


@instructor_required
@require_http_methods(["GET", "HEAD", "POST"])
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """One question with its chord and what both said."""
    found = get_object_or_404(reading_questions_led(request.user), pk=pk)
    revision = get_object_or_404(selectors.revisions_for_study(), pk=found.revision_id)
    study = _open_study(request, revision)
    form, problem = AnswerReadingForm(request.POST if request.method == "POST" else None), ""
    if request.method == "POST" and form.is_valid():
        try:
            answer_reading(question=found, by=request.user, **form.cleaned_data)  # type: ignore[arg-type]
        except Stale:
            problem = "Somebody else has answered this meanwhile; what you typed is still below."
            found.refresh_from_db()
        else:
            return _answered(request, found, form.cleaned_data["outcome"])
    context = chord_of(request, study, found.event) | {"asked": found, "tune": revision.version.tune, "form": form}
    context |= {"problem": problem, "revision": revision, "now": read_as(study, found.event)}
    status = 422 if form.errors or problem else 200
    return render(request, "assessments/reading_answer.html", context, status=status)


def _answered(request: HttpRequest, found: ReadingQuestion, outcome: str) -> HttpResponse:
    if outcome == ReadingQuestion.Outcome.OVERRULE:
        messages.success(
            request, "Answered. Overrule the reading here; steps that are running can then be marked again."
        )
        why = urlencode({"why": f"{found.player.name} asked: {found.text}"[:400]})
        return redirect(f"{reverse('tunes:event', args=[found.revision_id, found.event])}?{why}")
    messages.success(request, f"Answered: {found.player.name}.")
    return redirect(f"{reverse('work:queue')}?state=questions")
