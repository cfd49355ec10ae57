"""Assigning a tune: the instructor's list, the assign page, one assignment seen from either side."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Count
from django.db.models.functions import Lower
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.access import ensembles_led, instructor_required
from studio.middleware import EnsembleInUseMiddleware
from studio.requests import MemberRequest
from studio.web import paginate
from tunes.models import ChartRevision, Tune

from ..access import assignments_led, assignments_played, steps_shown
from ..forms import AssignmentForm, EditForm, LeewayForm, StepsForm, end_of
from ..kinds import KINDS
from ..models import Assignment, Step
from ..selectors import desk as read
from ..selectors.as_before import as_before, counts_as_learned, last_time, steps_as_before
from ..selectors.begun import waiting_for
from ..selectors.choices import assignments_to_list, ensembles_to_choose
from ..selectors.ledger import players_of
from ..selectors.old_keys import steps_with_old_keys
from ..selectors.solos import solos_to_ask
from ..services import assign as write
from ..services import leeway as write_leeway
from ..services.dues import past_dues
from .query import number_of, words_of


@instructor_required
@require_GET
def index(request: HttpRequest) -> HttpResponse:
    """Assignments of the ensembles that the instructor leads, the newest first; those of ended terms on request."""
    chosen, older = request.GET.get("ensemble", ""), request.GET.get("older") == "1"
    rows = assignments_to_list(request.user, older=older, ensemble=number_of(chosen))
    page = paginate(request, rows)
    steps = Counter(Step.objects.filter(assignment__in=[row.pk for row in page]).values_list("assignment", flat=True))
    for row in page:
        row.step_count = steps[row.pk]
    ensembles = ensembles_to_choose(request.user, older=older, chosen=number_of(chosen))
    context = {"page": page, "ensembles": ensembles, "chosen": chosen, "older": older}
    return render(request, "assessments/assignments.html", context)


@instructor_required
@require_http_methods(["GET", "POST"])
def new(request: MemberRequest) -> HttpResponse:
    """Choose a tune, then what is asked."""
    chosen = request.POST.get("tune") or request.GET.get("tune", "")
    tune = Tune.objects.filter(pk=number_of(chosen) or 0).first()
    if tune is None:
        return _choose_tune(request)
    ensembles = ensembles_led(request.user)
    revisions = (
        ChartRevision.objects.filter(version__tune=tune)
        .select_related("version")
        .defer("text", "analysis")
        .order_by("-version__is_agreed", "version_id", "-number")
    )
    start: dict[str, Any] = {
        "title": tune.title,
        "ensemble": [found.pk] if (found := _ensemble_meant(request, ensembles)) else [],
        "revision": number_of(request.GET.get("revision")) or revisions.values_list("pk", flat=True).first(),
    }
    before, like = last_time(request.user), None
    if before and request.GET.get("like") == str(before.pk):
        like = before
        start |= as_before(before)
    form = AssignmentForm(request.POST or None, ensembles=ensembles, revisions=revisions, initial=start)
    steps = StepsForm(
        request.POST or None, solos=solos_to_ask(request.user, tune), start=steps_as_before(like) if like else None
    )
    problem = past = ""
    if request.method == "POST" and all([form.is_valid(), steps.is_valid()]):
        ends = min((row.term.ends for row in form.cleaned_data["ensemble"]), default=None)
        past = _asked_about(request, _named(steps), ends=ends)
    if request.method == "POST" and not past and form.is_valid() and steps.is_valid():
        data = dict(form.cleaned_data)
        asked = list(data.pop("ensemble"))
        try:
            made = write.assign_to_several(by=request.user, ensembles=asked, steps=steps.plans(), **data)
        except write.CannotAsk as error:
            problem = str(error)
        else:
            names = " and ".join(row.ensemble.name for row in made)
            messages.success(request, f"Assigned to {names}. Every player has it on their desk.")
            return redirect("work:assignment", made[0].pk) if len(made) == 1 else redirect("work:assignments")
    wrong = bool(form.errors or steps.error or problem or (request.method == "POST"))
    return render(
        request,
        "assessments/assign.html",
        {
            "tune": tune,
            "form": form,
            "steps": steps,
            "problem": problem or steps.error,
            "past": past,
            "before": before if like is None else None,
            "counts": counts_as_learned(),
            "has_chart": revisions.exists(),
            "has_ensemble": ensembles.exists(),
        },
        status=422 if wrong else 200,
    )


def _ensemble_meant(request: HttpRequest, ensembles: Any) -> Any:
    """The ensemble in the address, or the one in use when it is running, or the only one that is led.

    Among several nothing is guessed: a tick that nobody set would ask the work of the wrong band.
    """
    asked, led = request.GET.get("ensemble", ""), list(ensembles)
    in_use = request.COOKIES.get(EnsembleInUseMiddleware.COOKIE, "")
    for pk in (asked, in_use):
        found = next((row for row in led if str(row.pk) == pk and (pk == asked or not row.term.is_over)), None)
        if found:
            return found
    return led[0] if len(led) == 1 else None


def _named(steps: StepsForm) -> list[tuple[str, Any]]:
    return [(plan.title or KINDS[plan.kind].name, plan.due) for plan in steps.plans()]


def _asked_about(
    request: HttpRequest, dues: list[tuple[str, Any]], before: Sequence[Any] = (), *, ends: date | None
) -> str:
    """What the person is asked before dates are taken that are past or after the term; "" when they said that they are meant."""
    return "" if request.POST.get("past") else past_dues(dues, before=before, ends=ends)


def _choose_tune(request: HttpRequest) -> HttpResponse:
    words = words_of(request.GET, "q")
    rows = Tune.objects.annotate(charts=Count("versions")).order_by(Lower("title"), "pk")
    for word in words.split():
        rows = rows.filter(title__icontains=word)
    return render(
        request,
        "assessments/choose_tune.html",
        {"page": paginate(request, rows), "words": words, "kept": request.GET.get("ensemble", "")},
        status=422 if request.method == "POST" else 200,
    )


@login_required
@require_GET
def assignment(request: MemberRequest, pk: int) -> HttpResponse:
    """For who leads the ensemble: how far everyone is. For a player: the steps."""
    mine = assignments_led(request.user).prefetch_related("steps").filter(pk=pk).first()
    if mine is not None:
        old = steps_with_old_keys(request.user, [mine.revision_id], step__assignment=mine)
        context = _overview(mine) | {"old_keys": old, "reminded": _reminded(request)}
        return render(request, "assessments/assignment_led.html", context)
    found = get_object_or_404(assignments_played(request.user).prefetch_related(steps_shown(request.user)), pk=pk)
    _, ((_, states),) = read.desk_states(request.user, [found])
    return render(request, "assessments/assignment.html", {"assignment": found, "states": states})


def _overview(found: Assignment) -> dict[str, Any]:
    steps = list(found.steps.all())
    for step in steps:
        step.assignment = found
    waits = waiting_for(found, steps)
    return {
        "assignment": found,
        "counts": waits.counts,
        "players": len(waits.players),
        "begun": any(count.sent for count in waits.counts),
        "waits": waits,
    }


def _reminded(request: HttpRequest) -> dict[str, Any]:
    """Who was reminded on the page before, with the time, for the way to take it back."""
    ids = [text for text in request.GET.get("reminded", "").split(",")[:400] if number_of(text)]
    at = request.GET.get("at", "")
    return {"ids": ids, "at": at if re.fullmatch(r"\d\d:\d\d", at) else ""} if ids else {}


def leeway_form(assignment: Assignment, data: Any = None) -> LeewayForm:
    """The form for a later date or an excuse of one player."""
    return LeewayForm(data, players=players_of(assignment.ensemble), steps=assignment.steps.all(), prefix="leeway")


@instructor_required
@require_http_methods(["GET", "POST"])
def leeway(request: MemberRequest, pk: int) -> HttpResponse:
    """Later dates and excuses of single players: given, and taken back."""
    found = get_object_or_404(assignments_led(request.user).prefetch_related("steps"), pk=pk)
    if row := number_of(request.POST.get("back")):
        write_leeway.take_back(assignment=found, leeway_id=row)
        messages.success(request, "Taken back: the same dates hold for everyone again.")
        return redirect("work:leeway", pk)
    form = leeway_form(found, request.POST if request.method == "POST" else None)
    if not form.is_valid():
        context = {"assignment": found, "leeways": read.leeways_of(found), "form": form}
        return render(request, "assessments/leeway.html", context, status=422 if form.errors else 200)
    data = form.cleaned_data
    steps = [data["step"]] if data["step"] else [step for step in found.steps.all() if not step.closed]
    for step in steps:
        step.assignment = found
    write_leeway.give(
        steps=steps,
        player=data["player"],
        due=None if data["excused"] else end_of(data["due"]),
        excused=data["excused"],
        reason=data["reason"],
        by=request.user,
    )
    words = "is excused" if data["excused"] else f"has until {data['due']:%-d %b}"
    messages.success(request, f"{data['player'].name} {words}.")
    return redirect("work:leeway", pk)


@instructor_required
@require_http_methods(["GET", "POST"])
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Texts, dates, attempts, release, further steps. Issued questions stay as they are."""
    found = get_object_or_404(assignments_led(request.user).prefetch_related("steps"), pk=pk)
    form = EditForm(request.POST or None, instance=found, initial={"version": found.version})
    more = StepsForm(request.POST or None, blank=True, require_one=False, solos=solos_to_ask(request.user, found.tune))
    dues = _due_fields(request, found)
    problem = past = ""
    if request.method == "POST" and all([form.is_valid(), more.is_valid(), not any(d["error"] for d in dues)]):
        moved = [(d["step"].name, _moment(d["step"], d["day"])) for d in dues if not d["back"]]
        standing = [step.due for step in found.steps.all()]
        past = _asked_about(request, moved + _named(more), standing, ends=found.ensemble.term.ends)
        problem = "" if past else _save_edit(found, form, more, dues)
        if not past and not problem:
            messages.success(request, "Saved.")
            return redirect("work:assignment", pk)
    return render(
        request,
        "assessments/edit.html",
        {
            "assignment": found,
            "form": form,
            "more": more,
            "dues": dues,
            "problem": problem,
            "past": past,
            "now_version": Assignment.objects.values_list("version", flat=True).get(pk=pk),
        },
        status=422 if request.method == "POST" else 200,
    )


def _save_edit(found: Assignment, form: EditForm, more: StepsForm, dues: list[dict[str, Any]]) -> str:
    data = dict(form.cleaned_data)
    version = data.pop("version")
    try:
        write.edit_assignment(
            assignment_id=found.pk,
            version=version,
            fields=data,
            more=more.plans(),
            dues={d["step"].pk: _moment(d["step"], d["day"]) for d in dues},
            closed={d["step"].pk for d in dues if d["back"]},
        )
    except write.Stale:
        return (
            "Someone else changed this assignment while you were writing. Your words are still here: "
            "look at the assignment in another window, then save again."
        )
    except write.CannotAsk as error:
        return str(error)
    return ""


def _moment(step: Step, day: Any) -> Any:
    """The end of the day; the same day keeps the hour that it has."""
    return step.due if step.due and timezone.localdate(step.due) == day else end_of(day)


def _due_fields(request: HttpRequest, found: Assignment) -> list[dict[str, Any]]:
    rows = []
    for step in found.steps.all():
        text = request.POST.get(f"due-{step.pk}") if request.method == "POST" else None
        day, error = (timezone.localdate(step.due) if step.due else None), ""
        if text is not None:
            try:
                day = forms.DateField(required=False).clean(text)
            except forms.ValidationError:
                error = "Give a date as 2030-05-31, or leave it empty."
        back = bool(request.POST.get(f"back-{step.pk}")) if request.method == "POST" else bool(step.closed)
        rows.append(
            {
                "step": step,
                "day": day,
                "error": error,
                "kind": KINDS[step.kind],
                "back": back,
                "text": text if text is not None else (day.isoformat() if day else ""),
            }
        )
    return rows


@login_required
@require_POST
def release(request: HttpRequest, pk: int) -> HttpResponse:
    """Show marks and answers to everyone who has handed in, or take that back."""
    found = get_object_or_404(assignments_led(request.user), pk=pk)
    if request.POST.get("undo"):
        write.withhold_answers(assignment=found)
        messages.success(request, "Answers are withheld again.")
    else:
        write.release_answers(assignment=found)
        messages.success(request, "Answers are out: players see marks and answers of what they handed in.")
    return redirect("work:assignment", pk)


@login_required
@require_POST
def close(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask for nothing of it any more (what was handed in stays), or undo that."""
    found = get_object_or_404(assignments_led(request.user), pk=pk)
    if request.POST.get("undo"):
        write.ask_again(assignment_id=pk)
        messages.success(request, f"Asked again: {found.title}")
    else:
        write.close_assignment(assignment_id=pk)
        messages.success(request, f"No longer asked: {found.title}. You can put it back here.")
    return redirect("work:assignment", pk)
