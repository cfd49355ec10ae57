"""The quiz: starting, answering, handing in, and the feedback that follows."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from drills.marking import Context, echo
from drills.marking_rules import marking_rules
from studio.requests import MemberRequest
from tunes.access import refuse_held_chords
from tunes.harmony.pitch.spelling import Interval, Key, SpellingError
from tunes.recordings.selectors import caution_due

from ..access import own_attempts, steps_played
from ..bars import Bars
from ..kinds import QUIZ, quiz_kinds
from ..models import Attempt, Step
from ..selectors import desk as read
from ..selectors.by_ear import shows_chords
from ..selectors.quiz import feedback_view, pitch_of, quiz_of, quiz_page, study_for, symbols_of
from ..selectors.review import objections_of, sheet_of
from ..services.answer import Save, Saved, save_answers
from ..services.hand_in import NoMoreGoes, hand_in, start_attempt
from ..services.shown import came_after
from .query import number_of

MOST_SAVES = 400
LONGEST_BODY = 400_000
PLAIN_CLIENT = uuid.UUID(int=0)  # a page without scripts: its fields arrive with the form


@login_required
@require_POST
def start(request: MemberRequest, pk: int) -> HttpResponse:
    """Begin, or go on with, an attempt."""
    step = get_object_or_404(steps_played(request.user), pk=pk)
    if step.about.how != QUIZ:
        raise Http404
    _keep_closed(request, step)
    try:
        attempt = start_attempt(step=step, player=request.user)
    except NoMoreGoes as no:
        messages.error(request, str(no))
        return redirect("work:step", pk)
    return redirect("work:attempt", attempt.pk)


def _keep_closed(request: HttpRequest, step: Step, *, out: bool = False) -> None:
    """403 where the page would show chords that the player is still to hear. What is typed is saved all the same."""
    if shows_chords(step.kind, out=out):
        refuse_held_chords(request.user, step.assignment.tune_id)


def _own(request: HttpRequest, pk: int) -> Attempt:
    return get_object_or_404(
        own_attempts(request.user).select_related("step__assignment__revision", "reviewed_by"), pk=pk
    )


@login_required
@require_GET
def attempt(request: HttpRequest, pk: int) -> HttpResponse:
    """The quiz while it is open; what came of it afterwards."""
    found = _own(request, pk)
    if found.step.about.how != QUIZ:
        return redirect("work:step", found.step_id)
    if found.is_open:
        _keep_closed(request, found.step)
        return _quiz_page(request, found)
    return _feedback(request, found)


def _quiz_page(
    request: HttpRequest, found: Attempt, *, others: Mapping[str, tuple[str, str]] | None = None, status: int = 200
) -> HttpResponse:
    """The quiz; `others` are fields that another window has written meanwhile, with what was typed here kept in them."""
    quiz = quiz_of(found, with_key=False)
    page = quiz_page(found, quiz.asked, quiz.home, typed={name: mine for name, (_, mine) in (others or {}).items()})
    told = [(field, others[field.id][0]) for field in page.fields if others and field.id in others]
    return render(
        request,
        "assessments/quiz.html",
        {
            "attempt": found,
            "page": page,
            "last_go": _is_last(found),
            "practice": came_after(found, timezone.now()),
            "caution": page.hearing is not None and caution_due(request.user, "hearing"),
            "others": told,
            "data": {
                "attempt": found.pk,
                "home": page.home,
                "written": page.written,
                "versions": {f.id: f.version for f in page.fields},
                "times": page.hearing.times if page.hearing else {},
            },
        },
        status=status,
    )


def _is_last(found: Attempt) -> bool:
    attempts = list(Attempt.objects.filter(step=found.step_id, player=found.player_id))
    return read.goes_left(found.step.assignment, attempts) == 0


def _feedback(request: HttpRequest, found: Attempt) -> HttpResponse:
    attempts = list(Attempt.objects.filter(step=found.step_id, player=found.player_id).order_by("number"))
    out = read.is_out(found.step, found, attempts, timezone.now())
    _keep_closed(request, found.step, out=out)
    context: dict[str, Any] = {
        "attempt": found,
        "out": out,
        "state": read.quiz_state(found.step, attempts),
        "pitch": pitch_of(found),
        "rules": marking_rules(),
    }
    quiz = quiz_of(found, with_key=out)
    if out:
        study = study_for(found)
        bars = Bars(study.chart)
        sheet = sheet_of(found, quiz.questions, symbols_of(study), bars)
        context |= {
            "bars": bars,
            "sheet": sheet,
            "asked": objections_of(found),
            "view": feedback_view(found, study, sheet.rows),
            "missed": [r for r in sheet.rows if r.points < 1],
        }
    else:
        page = quiz_page(found, quiz.asked, quiz.home)
        context |= {"page": page, "comments": found.comments.select_related("by")}
    return render(request, "assessments/feedback.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def save(request: HttpRequest, pk: int) -> JsonResponse:
    """Save the fields of one window: `{"client": uuid, "saves": [{"q", "text", "seq", "base"}]}`. GET: what stands now, so
    that a window hears of another one."""
    if request.method == "GET":
        return JsonResponse(_standing(get_object_or_404(own_attempts(request.user), pk=pk)))
    try:
        client, saves = _read_saves(request)
    except ValueError as error:
        return JsonResponse({"problem": str(error)}, status=400)
    try:
        found, results = save_answers(attempt_id=pk, player_id=int(request.user.pk or 0), client=client, saves=saves)
    except Attempt.DoesNotExist as missing:
        raise Http404 from missing
    return JsonResponse(
        {
            "open": found.is_open,
            "at": f"{timezone.localtime():%H:%M}",
            "results": [_as_json(result) for result in results],
        }
    )


def _standing(found: Attempt) -> dict[str, Any]:
    rows = found.answers.order_by("pk")
    return {
        "open": found.is_open,
        "answers": [
            {"q": a.question, "text": a.text, "version": a.version, "at": f"{timezone.localtime(a.saved):%H:%M}"}
            for a in rows
        ],
    }


def _as_json(saved: Saved) -> dict[str, Any]:
    return {
        "q": saved.question,
        "seq": saved.sequence,
        "outcome": saved.outcome,
        "text": saved.text,
        "version": saved.version,
        "at": f"{timezone.localtime(saved.saved):%H:%M}" if saved.saved else "",
    }


def _read_saves(request: HttpRequest) -> tuple[uuid.UUID, list[Save]]:
    """The body of a save, every part checked. Raises ValueError with what is wrong."""
    if len(request.body) > LONGEST_BODY:
        raise ValueError("Too much at once: save fewer fields.")
    try:
        body = json.loads(request.body)
        client = uuid.UUID(body["client"])
        rows = body["saves"]
        saves = [
            Save(
                question=_text(r["q"], 40),
                text=_text(r["text"], 400),
                sequence=_count(r["seq"]),
                base=_count(r.get("base", 0)),
            )
            for r in rows
        ]
    except (KeyError, TypeError, AttributeError, UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        raise ValueError("Send client and saves, each with q, text and seq.") from error
    if not saves or len(saves) > MOST_SAVES:
        raise ValueError(f"Send between 1 and {MOST_SAVES} fields.")
    if len({s.sequence for s in saves}) < len(saves):
        raise ValueError("Every save of a window needs a sequence of its own.")
    return client, saves


def _text(value: object, longest: int) -> str:
    if not isinstance(value, str):
        raise ValueError("q and text are text.")
    plain = value.encode("utf-8", "replace").decode()  # half a surrogate pair fits no database
    return plain.replace("\x00", "")[:longest]


def _count(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < 2**31:
        raise ValueError("seq and base are counts from 0.")
    return value


@login_required
@require_POST
def finish(request: HttpRequest, pk: int) -> HttpResponse:
    """Hand in. Twice does nothing twice. A page without scripts sends its fields along."""
    found = get_object_or_404(own_attempts(request.user), pk=pk)
    if found.step.about.how != QUIZ:
        raise Http404
    _keep_closed(request, found.step)
    if request.POST.get("plain") and found.is_open and (others := _save_plain(request, found)):
        return _quiz_page(request, _own(request, pk), others=others, status=409)
    hand_in(attempt_id=pk, player_id=int(request.user.pk or 0))
    return redirect("work:attempt", pk)


def _save_plain(request: HttpRequest, found: Attempt) -> dict[str, tuple[str, str]]:
    """Save the fields of a page without scripts. Where another window wrote since the page was drawn, nothing is: question →
    (what stands, what was typed here), for the person to choose."""
    saved = {a.question: a for a in found.answers.all()}
    last = found.history.filter(client=PLAIN_CLIENT).count()
    changed, others = [], {}
    for name in quiz_of(found, with_key=False).ids:
        text = request.POST.get(f"q-{name}")
        before = saved.get(name)
        if text is None or text == (before.text if before else ""):
            continue
        seen = number_of(request.POST.get(f"v-{name}"))
        if before and seen is not None and seen < before.version:
            if seen or text:  # a field that was blank and stays so says nothing against the other window
                others[name] = (before.text, _text(text, 400))
            continue
        last += 1
        changed.append(Save(name, _text(text, 400), last, before.version if before else 0))
    if changed:
        save_answers(attempt_id=found.pk, player_id=found.player_id, client=PLAIN_CLIENT, saves=changed)
    return others


@login_required
@require_GET
def understood(request: HttpRequest) -> JsonResponse:
    """How an answer is understood, never whether it is right. Reads nothing but the question itself.

    `kind`, `q` (the text), `home` (concert), `written` (interval), `named` (the key last typed in front of
    an answer, in the pitch the player reads), `part` and `metre` (what a question of changes by ear asks, and
    the metre of its bar), `chord` (the chord above the field, as shown), `quality` ("0" where the number is enough).
    """
    get = request.GET
    kind = get.get("kind", "function")
    if kind not in quiz_kinds():
        return JsonResponse({"problem": "Unknown kind."}, status=400)
    context = Context(
        key=_concert_key(get.get("named", ""), get.get("home", ""), get.get("written", "P1")),
        written=_interval_name(get.get("written", "P1")),
        part=get.get("part", "")[:12],
        metre=get.get("metre", "")[:8],
        chord=get.get("chord", "")[:40],
        quality=get.get("quality") != "0",
    )
    said = echo(kind, get.get("q", "")[:400], context)
    return JsonResponse({"text": said.text, "ok": said.ok})


def _interval_name(text: str) -> str:
    try:
        return Interval.parse(text).name
    except SpellingError:
        return "P1"


def _concert_key(named: str, home: str, written: str) -> str:
    for text, interval in ((named, _interval_name(written)), (home, "P1")):
        try:
            if text:
                return Key.parse(text[:20]).transposed(-Interval.parse(interval)).text
        except SpellingError:
            continue
    return ""


@login_required
@require_GET
def rules(request: HttpRequest) -> HttpResponse:
    """The marking table, as instructors and players read it."""
    return render(request, "assessments/rules.html", {"rules": marking_rules().values()})
