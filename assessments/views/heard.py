"""The sound beside answers, asked for once their page stands: the player's own, and the sheet of whoever reviews them."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from studio.access import instructor_required
from studio.requests import MemberRequest
from tunes.access import refuse_held_chords

from ..access import attempt_to_review, own_attempts
from ..bars import Bars
from ..kinds import QUIZ
from ..models import Attempt
from ..selectors import desk as read
from ..selectors.by_ear import shows_chords
from ..selectors.quiz import heard_from_answers, quiz_of, study_for, symbols_of
from ..selectors.review import sheet_of


@login_required
@require_GET
def heard(request: HttpRequest, pk: int) -> HttpResponse:
    """What lets the bars of an attempt be heard, for its page to put in once it stands: the sound, the times of the bars and
    which bar each question is about. Empty before the answers are out, and without a sound that has the form on it."""
    found = get_object_or_404(own_attempts(request.user).select_related("step__assignment__revision"), pk=pk)
    attempts = list(Attempt.objects.filter(step=found.step_id, player=found.player_id).order_by("number"))
    out = not found.is_open and read.is_out(found.step, found, attempts, timezone.now())
    if shows_chords(found.step.kind, out=out):
        refuse_held_chords(request.user, found.step.assignment.tune_id)
    if not out or found.step.about.how != QUIZ:
        return HttpResponse()
    return _sound(request, found, reverse("work:attempt", args=[pk]))


@instructor_required
@require_GET
def sheet_heard(request: MemberRequest, pk: int) -> HttpResponse:
    """The same for the sheet of an attempt that `user` reviews."""
    found = attempt_to_review(request.user, pk)
    return _sound(request, found, reverse("work:sheet", args=[pk])) if found.step.about.how == QUIZ else HttpResponse()


def _sound(request: HttpRequest, attempt: Attempt, page: str) -> HttpResponse:
    study, quiz = study_for(attempt), quiz_of(attempt, with_key=True)
    rows = sheet_of(attempt, quiz.questions, symbols_of(study), Bars(study.chart)).rows
    context = heard_from_answers(request.user, attempt.step, study, rows)
    return render(request, "assessments/_heard.html", context | {"page": page}) if context else HttpResponse()
