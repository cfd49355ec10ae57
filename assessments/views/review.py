"""The instructor's queue, one player's sheet, one sheet for the whole ensemble."""

from __future__ import annotations

import uuid
from collections import Counter
from collections.abc import Mapping
from typing import Any
from urllib.parse import parse_qsl, urlencode

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from drills.marking_rules import marking_rules
from drills.takes.access import ALONG, UNREAD, heard_or_404
from drills.takes.page import page_of
from studio.access import instructor_required
from studio.requests import MemberRequest
from studio.web import next_url, paginate, with_microphone
from tunes.study import chart_of

from ..access import assignments_led, attempt_to_review, attempts_led, steps_led
from ..bars import Bars
from ..forms import CommentForm, OverrideForm
from ..kinds import KINDS, QUIZ
from ..models import Attempt, Comment, Quiz, Step, Submission
from ..selectors import review as read
from ..selectors.accepted import accepted_of
from ..selectors.choices import ensembles_to_choose
from ..selectors.ledger import standing_rows
from ..selectors.old_keys import steps_with_old_keys
from ..selectors.quiz import ensemble_view, feedback_view, pitch_of, study_for, symbols_of
from ..selectors.solos import note_named
from ..selectors.step_signs import step_signs
from ..services import review as write
from .query import number_of, words_of

OUTCOMES: dict[str, tuple[Any, str]] = {
    "accept": (write.accept, "Reviewed"),
    "return": (write.return_for_another_go, "For another go"),
    "reopen": (write.reopen, "Back in the queue"),
    "count": (write.count, "Counts in the ledger"),
    "uncount": (write.uncount, "Counts no longer"),
}
MOST_AT_ONCE = 100
UNDONE = ("accept", "return")  # what can be taken back on the next page


@instructor_required
@require_GET
def queue(request: MemberRequest) -> HttpResponse:
    """Who handed in, late, missing; narrowed by ensemble, assignment, kind and name."""
    get = request.GET
    state = get.get("state", "waiting")
    state = state if state in dict(read.STATES) else "waiting"
    narrow: dict[str, Any] = {
        "ensemble": number_of(get.get("ensemble")),
        "assignment": number_of(get.get("assignment")),
        "kind": get.get("kind", "") if get.get("kind") in KINDS else "",
        "player": words_of(get, "player"),
    }
    older = get.get("older") == "1"
    counts = read.counts(request.user)
    counted = state not in ("questions", "open") and not older and not any(narrow.values())  # as the tab counts them
    page = paginate(request, _rows(request.user, state, narrow, older), total=counts[state] if counted else None)
    if state == "missing":
        for row in page:
            row.step_name = read.step_label(row.step_kind, row.step_title)
    return render(
        request,
        "assessments/queue.html",
        {
            "page": page,
            "groups": _groups(list(page)) if state not in ("missing", "questions") else [],
            "state": state,
            "narrow": narrow,
            "tickable": state in ("waiting", "late"),
            "tabs": _tabs(counts),
            "ensembles": ensembles_to_choose(request.user, older=older, chosen=narrow["ensemble"]),
            "older": older,
            "assignment": assignments_led(request.user).filter(pk=narrow["assignment"] or 0).first(),
            "kinds": list(KINDS.values()),
            "undo": _undo(request),
        },
    )


def _groups(rows: list[Attempt]) -> list[dict[str, Any]]:
    """The sheets of a page under their steps, in the order of the oldest of each, with how far the ensemble is."""
    steps = {row.step_id: row.step for row in rows}
    signs = step_signs(steps.values()) if steps else {}
    return [
        {"step": step, "signs": signs[pk], "rows": [row for row in rows if row.step_id == pk]}
        for pk, step in steps.items()
    ]


def _rows(user: Any, state: str, narrow: dict[str, Any], older: bool) -> Any:
    if state == "missing":
        return read.missing(user, **narrow)
    if state != "questions":
        return read.queue(user, state=state, older=older, **narrow)
    asked: list[Any] = list(read.questioned(user, **narrow))
    if not narrow["assignment"] and not narrow["kind"]:  # a reading belongs to no step
        asked += read.readings_questioned(user, ensemble=narrow["ensemble"], player=narrow["player"])
    return sorted(asked, key=lambda one: one.created)


def _tabs(counts: Any) -> list[tuple[str, str, int | None]]:
    return [(state, label, counts.get(state)) for state, label in read.STATES]


@with_microphone
@instructor_required
@require_GET
def sheet(request: MemberRequest, pk: int) -> HttpResponse:
    """One player's attempt with everything said about it."""
    return _sheet_page(request, attempt_to_review(request.user, pk))


@instructor_required
@require_POST
def accept_many(request: MemberRequest) -> HttpResponse:
    """Accept every ticked attempt of the queue, or take that back; one that somebody changed meanwhile stays."""
    ids = [int(pk) for pk in request.POST.getlist("attempts")[:MOST_AT_ONCE] if number_of(pk)]
    led, back = attempts_led(request.user).filter(pk__in=ids), next_url(request, reverse("work:queue"))
    if request.POST.get("act") == "reopen":
        undone = _each(write.reopen, request, led.filter(status=Attempt.Status.REVIEWED, reviewed_by=request.user))
        messages.success(request, f"Back in the queue: {len(undone)}.")
        return redirect(back)
    done = _each(write.accept, request, led.filter(status=Attempt.Status.HANDED_IN))
    if not done:
        messages.success(request, "Tick at least one sheet that waits for review.")
        return redirect(back)
    path, _, query = back.partition("?")
    kept = [(name, value) for name, value in parse_qsl(query) if name != "done"]
    return redirect(f"{path}?{urlencode([*kept, ('done', ','.join(map(str, done)))])}")


def _each(act: Any, request: MemberRequest, rows: Any) -> list[int]:
    """Do one thing to every sheet; those that somebody changed meanwhile are left out of what is returned."""
    done = []
    for row in rows:
        try:
            act(attempt_id=row.pk, by=request.user, version=row.version)
            done.append(row.pk)
        except write.Stale:
            continue
    return done


def _sheet_page(
    request: MemberRequest, attempt: Attempt, *, problem: str = "", typed: Any = None, status: int = 200
) -> HttpResponse:
    is_quiz = attempt.step.about.how == QUIZ
    if not is_quiz:
        with_take = attempt.submissions.filter(take__isnull=False)
        with_take = with_take.select_related(*(f"take__{name}" for name in ALONG))
        sent = with_take.defer(*(f"take__{name}" for name in UNREAD)).first()
        if sent is not None:
            return _take_page(request, attempt, sent, problem=problem, typed=typed, status=status)
    questions = Quiz.objects.get(step_id=attempt.step_id).questions if is_quiz else ()
    before, after = read.neighbours(request.user, attempt)
    others = attempts_led(request.user).filter(step=attempt.step_id, player=attempt.player_id).order_by("number")
    study = study_for(attempt) if is_quiz else None
    bars = Bars(study.chart) if study else None
    found = read.sheet_of(attempt, questions, symbols_of(study) if study else {}, bars)
    view = feedback_view(attempt, study, found.rows) if study else None
    as_list = request.GET.get("view") == "list" or request.POST.get("view") == "list"
    return render(
        request,
        "assessments/sheet.html",
        {
            "attempt": attempt,
            "sheet": found,
            "has_chart": view is not None,
            "view": None if as_list else view,
            **(on_the_chart(found, bars) if bars else {}),
            "asked": read.objections_of(attempt) if is_quiz else {},
            "is_quiz": is_quiz,
            "pitch": pitch_of(attempt),
            "bars": bars,
            "undo": _undo(request),
            "counted": attempt.after_answers and standing_rows(attempt=attempt).exists(),
            "before": before,
            "after": after,
            "rules": marking_rules(),
            "token": uuid.uuid4(),
            "submissions": () if is_quiz else attempt.submissions.all(),
            "others": others,
            "problem": problem,
            "typed": typed or {},
        },
        status=status,
    )


def on_the_chart(sheet: read.Sheet, bars: Bars) -> dict[str, Any]:
    """What the chart needs besides the rows: how many of each shape, the way through what is not full, remarks numbered
    in the order of the form and pegged to their bars, the names of the bars."""
    count = Counter(row.shape for row in sheet.rows)
    look = [row.mark.position for row in sheet.rows if row.shape != "right"]
    ends = [None, *look, None]
    notes = sorted((c for c in sheet.comments if c.bar is not None), key=lambda c: (c.bar or 0, c.pk))
    pegs: dict[int | None, list[int]] = {}
    for number, note in enumerate(notes, 1):
        pegs.setdefault(note.bar, []).append(number)
    return {
        "shapes": count,
        "first_missed": look[0] if look else None,
        "ways": {
            position: {"at": at, "of": len(look), "before": ends[at - 1], "after": ends[at + 1]}
            for at, position in enumerate(look, 1)
        },
        "pegs": pegs,
        "pegged": list(enumerate(notes, 1)),
        "bar_names": {row.mark.question: bars.name(row.question) for row in sheet.rows},
    }


def _take_page(
    request: MemberRequest, attempt: Attempt, sent: Submission, *, problem: str, typed: Any, status: int
) -> HttpResponse:
    """A hand-in that is a take: heard at the bar, and on to the next take of the ensemble without leaving the page."""
    waiting = read.takes_waiting(request.user, attempt.step.assignment.ensemble_id)
    before, after = read.beside(waiting, attempt)
    take = heard_or_404(request.user, sent.take)  # type: ignore[arg-type]
    context = page_of(request.user, take, request.GET.get("beside", ""))
    context |= {
        "attempt": attempt, "sent": sent, "before": before, "after": after, "of": len(waiting), "problem": problem,
        "at": waiting.index(attempt.pk) + 1 if attempt.pk in waiting else 0, "undo": _undo(request), "typed": typed or {},
        "token": uuid.uuid4(), "said": Comment.objects.filter(attempt=attempt).select_related("by"),
    }  # fmt: skip
    return render(request, "assessments/take_sheet.html", context, status=status)


@instructor_required
@require_POST
def comment(request: MemberRequest, pk: int) -> HttpResponseBase:
    """Add a remark to a bar, a time or the whole; with `act`, the sheet is reviewed by the same press."""
    attempt = attempt_to_review(request.user, pk)
    form = CommentForm(request.POST)
    if not form.is_valid():
        return _sheet_page(request, attempt, problem=_first(form), typed=request.POST, status=422)
    data = form.cleaned_data
    sent = attempt.submissions.filter(pk=data["sent"]).select_related("solo__solo").first() if data["sent"] else None
    write.comment(
        attempt=attempt,
        by=request.user,
        text=data["text"],
        token=data["token"],
        bar=data["bar"],
        seconds=data["seconds"],
        note=note_named(sent, data["note"]) if sent and data["note"] is not None else "",
    )
    if sent:
        return redirect("work:handed-solo", sent.pk)
    if request.POST.get("act") in ("accept", "return"):  # with one press; the remark is kept whatever comes of the rest
        return outcome(request, pk)
    return _back(request, attempt, f"bar-{data['bar']}" if data["bar"] is not None else "comments", data["bar"])


@instructor_required
@require_POST
def mark(request: MemberRequest, pk: int) -> HttpResponse:
    """Another mark beside the computed one, with a reason."""
    attempt = attempt_to_review(request.user, pk)
    form = OverrideForm(request.POST)
    if not form.is_valid():
        typed = {**request.POST.dict(), "wrong": next(iter(form.errors))}
        return _sheet_page(request, attempt, problem=_first(form), typed=typed, status=422)
    data = form.cleaned_data
    if not attempt.marks.filter(question=data["question"]).exists():
        return _sheet_page(request, attempt, problem="That question is not on this sheet.", status=422)
    try:
        write.override(
            attempt_id=attempt.pk,
            by=request.user,
            version=data["version"],
            question=data["question"],
            points=data["points"],
            reason=data["reason"],
        )
    except write.Stale:
        return _stale(request, attempt)
    row = next(
        (
            r
            for r in read.sheet_of(attempt, Quiz.objects.get(step_id=attempt.step_id).questions).rows
            if r.mark.question == data["question"]
        ),
        None,
    )
    return _back(request, attempt, f"bar-{row.bar}" if row else "", position=row.mark.position if row else None)


@instructor_required
@require_POST
def outcome(request: MemberRequest, pk: int) -> HttpResponse:
    """Accept, return for another go, or take either back; then on to the next sheet. Count a go, or not."""
    attempt = attempt_to_review(request.user, pk)
    version = number_of(request.POST.get("version")) or 0
    act, said = OUTCOMES.get(request.POST.get("act", ""), (None, ""))
    if act is None:
        return _sheet_page(request, attempt, problem="Choose accept, return or reopen.", status=422)
    if request.POST.get("among") == "takes":
        before, after = read.beside(read.takes_waiting(request.user, attempt.step.assignment.ensemble_id), attempt)
    else:
        before, after = read.neighbours(request.user, attempt)
    try:
        act(attempt_id=attempt.pk, by=request.user, version=version)
    except write.Stale:
        return _stale(request, attempt)
    onward = (after or before) if request.POST.get("then") == "next" else None
    if request.POST["act"] in UNDONE:
        # The page that opens says what was done, with the way to take it back.
        return redirect(f"{reverse('work:sheet', args=[onward or attempt.pk])}?{urlencode({'done': attempt.pk})}")
    messages.success(request, f"{said}: {attempt.player.name}, {attempt.step.name}")
    return redirect("work:sheet", onward) if onward else _back(request, attempt, "")


def _undo(request: MemberRequest) -> list[Attempt]:
    """The sheets that this reviewer has just accepted or returned, while they still stand so."""
    done = [int(pk) for pk in request.GET.get("done", "").split(",")[:MOST_AT_ONCE] if number_of(pk)]
    if not done:
        return []
    settled = (Attempt.Status.REVIEWED, Attempt.Status.RETURNED)
    return list(attempts_led(request.user).filter(pk__in=done, reviewed_by=request.user, status__in=settled))


def _stale(request: MemberRequest, attempt: Attempt) -> HttpResponse:
    attempt.refresh_from_db()
    return _sheet_page(
        request,
        attempt,
        typed=request.POST,
        status=409,
        problem=(
            "Someone else changed this sheet after you opened it. This is how it stands now; what you typed is "
            "still in its field. Look, then send it again."
        ),
    )


def _first(form: Any) -> str:
    name, errors = next(iter(form.errors.items()))
    label = form.fields[name].label or name.capitalize() if name in form.fields else ""
    return f"{label}: {errors[0]}"


def _back(
    request: MemberRequest, attempt: Attempt, place: str, bar: int | None = None, position: int | None = None
) -> HttpResponse:
    """To the sheet as it was looked at: `place` in the list; on the chart the remarks, or the reason of a mark."""
    response = redirect("work:sheet", attempt.pk)
    if request.POST.get("view") == "list":
        response["Location"] += "?view=list"
    elif bar is not None:
        place = "notes"
    elif position is not None:
        place = f"why-{position}"
    if place:
        response["Location"] += f"#{place}"
    return response


@instructor_required
@require_GET
def ensemble(request: MemberRequest, pk: int) -> HttpResponse:
    """Which bars were missed by how many, and with which answers."""
    step = get_object_or_404(
        steps_led(request.user).select_related("quiz", "assignment__revision"),
        pk=pk,
    )
    quiz = getattr(step, "quiz", None)
    bars = Bars(chart_of(step.assignment.revision.text))
    rows = read.ensemble_sheet(step, quiz.questions if quiz else [], bars)
    asked = {q["id"]: q for q in (quiz.questions if quiz else ())}
    order = request.GET.get("order", "")
    view = ensemble_view(step, rows)
    most = read.most_missed(rows) if view else []
    if order == "missed":
        rows = sorted(rows, key=lambda r: -r.missed)
    sheets = read.latest_sheets(step).select_related("player").order_by("player__name")
    return render(
        request,
        "assessments/ensemble_sheet.html",
        {
            "step": step,
            "rows": rows,
            "accepted": _accepted(request, step, bars, asked),
            "order": order,
            "has_chart": view is not None,
            "view": view if order not in ("form", "missed") else None,
            "most": [(row, bars.name(row.question)) for row in most],
            "most_ids": {row.question["id"] for row in most},
            "who": read.who_missed(step, [row.question["id"] for row in most]) if most else {},
            "most_names": read.MOST_NAMES,
            "rules": marking_rules(),
            "page": paginate(request, sheets, total=rows[0].sheets if rows else None),
            "total": rows[0].sheets if rows else 0,
            "old_key": bool(steps_with_old_keys(request.user, [step.assignment.revision_id], step=step)),
        },
    )


def _accepted(request: MemberRequest, step: Step, bars: Bars, asked: Mapping[str, Any]) -> Page[Any]:
    """What is accepted for everyone, a page of it."""
    rows = [
        {"first": row.first, "bars": bars.names([asked[name] for name in row.questions if name in asked])}
        for row in accepted_of(step)
    ]
    return Paginator(rows, 20).get_page(request.GET.get("accepted"))
