"""The steps that are not quizzes: listening, hand-ins, in person; and where a quiz is begun."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import prefetch_related_objects
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from drills.takes.selectors import of_tune
from studio.requests import MemberRequest
from studio.web import with_microphone
from tunes.access import closed
from tunes.models import Recording

from ..access import steps_played
from ..forms import HandInForm, ListeningForm
from ..kinds import HAND_IN, IN_PERSON, LOG, SOLO_KINDS, WRITE_OUT
from ..models import Comment, Step
from ..selectors import desk as read
from ..selectors.solos import solos_to_hand_in, to_write
from ..services.hand_in import NoMoreGoes, log_hearing, send

WRITTEN = ("write-out", "recurs")  # hand-ins that are words and notes, not sound


@with_microphone
@login_required
@require_http_methods(["GET", "POST"])
def step(request: MemberRequest, pk: int) -> HttpResponse:
    """The page of one step: a log, a hand-in, or where to begin a quiz."""
    found = get_object_or_404(steps_played(request.user).select_related("assignment__revision__version"), pk=pk)
    page = {LOG: _log, HAND_IN: _hand_in, IN_PERSON: _in_person}.get(found.about.how, _quiz)
    return page(request, found)


def _log(request: MemberRequest, step: Step) -> HttpResponse:
    recordings = Recording.objects.filter(tune=step.assignment.tune_id)
    listed = list(recordings[:50])
    reference = next((recording for recording in listed if recording.is_reference), None)
    form = ListeningForm(request.POST or None, recordings=recordings, listed=listed, reference=reference)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        log_hearing(
            step=step,
            player=request.user,
            token=data["token"],
            heard=data["heard"],
            on=data["on"],
            noticed=data["noticed"],
            recording=data["recording"],
        )
        messages.success(request, f"Logged: {data['heard']}")
        return redirect("work:step", step.pk)
    return render(
        request,
        "assessments/listening.html",
        {
            "step": step,
            "state": read.states_of(request.user, [step])[0],
            "form": form,
            "log": read.hearings(request.user, step),
            "recordings": listed,
        },
        status=422 if form.errors else 200,
    )


def _hand_in(request: MemberRequest, step: Step) -> HttpResponse:
    solos = solos_to_hand_in(request.user, step.assignment.tune_id) if step.kind in SOLO_KINDS else None
    takes = None if step.kind in WRITTEN else of_tune(request.user, step.assignment.tune_id)
    chosen = {"take": request.GET.get("take", "")[:20]} if takes is not None else {}
    form = HandInForm(
        request.POST or None, request.FILES or None, solos=solos, takes=takes, by=request.user, initial=chosen
    )
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            send(
                step=step,
                player=request.user,
                token=data["token"],
                file=data["file"],
                note=data["note"],
                media_type=form.media_type,
                seconds=form.seconds,
                link=data["link"],
                solo=data.get("solo"),
                take=data.get("take"),
            )
        except NoMoreGoes as no:
            messages.error(
                request,
                str(no)
                if step.is_closed
                else "Everything that can be handed in here has been. Your instructor can return it for another go.",
            )
        else:
            form.forget()
            messages.success(request, f"Handed in: {step.name}")
        return redirect("work:step", step.pk)
    if request.method == "POST":
        form.keep_file()
    state = read.states_of(request.user, [step])[0]
    comments = Comment.objects.filter(attempt__in=[a.pk for a in state.attempts]).select_related("by")
    return render(
        request,
        "assessments/send.html",
        {
            "step": step,
            "state": state,
            "form": form,
            "comments": comments,
            "attempts": _with_submissions(state),
            "records": takes is not None and not step.is_closed,
            **_to_write(request, step, state),
        },
        status=422 if form.errors else 200,
    )


def _to_write(request: MemberRequest, step: Step, state: read.StepState) -> dict[str, Any]:
    """Where a solo is written for the step, or why its staves are closed: the changes stand above them."""
    if step.kind != WRITE_OUT or step.is_closed:
        return {}
    if state.closed:
        return {"hold": closed(request.user, [step.assignment.tune_id]).get(step.assignment.tune_id)}
    return {"to_write": to_write(step, request.user), "part": step.options.get("kept") and step.options.get("last")}


def _with_submissions(state: read.StepState) -> list[Any]:
    attempts = [a for a in reversed(state.attempts) if not a.is_open]
    prefetch_related_objects(attempts, "submissions__take")
    return attempts


def _quiz(request: MemberRequest, step: Step) -> HttpResponse:
    if request.method == "POST":
        raise Http404
    return render(
        request, "assessments/quiz_step.html", {"step": step, "state": read.states_of(request.user, [step])[0]}
    )


def _in_person(request: MemberRequest, step: Step) -> HttpResponse:
    if request.method == "POST":
        raise Http404
    return render(
        request, "assessments/in_person.html", {"step": step, "state": read.states_of(request.user, [step])[0]}
    )
