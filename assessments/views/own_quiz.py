"""Test me: a quiz that a player starts for themselves. It is theirs alone; to everybody else it does not exist."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from drills.marking_rules import marking_rules
from studio.requests import MemberRequest
from studio.web import paginate
from tunes.models import Idiom, Tune

from ..holds import answers_to_come
from ..kinds import BY_HEART
from ..models import OwnQuiz
from ..own_forms import TestMeForm
from ..own_quiz import NUMBERS, Wish
from ..selectors.own_quiz import OwnPage, own_page, own_quizzes, own_results
from ..services import own_quiz as services
from ..services.answer import Save
from .query import number_of
from .quiz import PLAIN_CLIENT, _as_json, _read_saves, _text


@login_required
@require_http_methods(["GET", "POST"])
def test_me(request: MemberRequest) -> HttpResponse:
    """Choose what to be asked, or begin at once: the desk posts a mix of two minutes."""
    charted = Tune.objects.filter(versions__is_agreed=True, versions__revisions__isnull=False).distinct()
    closed = answers_to_come(request.user, set(charted.order_by().values_list("pk", flat=True)))
    form = TestMeForm(
        request.POST or None,
        tunes=charted.exclude(pk__in=closed),
        idioms=Idiom.objects.all(),
        initial=_initial(request),
    )
    if request.method == "POST" and form.is_valid():
        try:
            made = services.start(player=request.user, wish=form.wish())
        except services.NothingToAsk as no:
            form.add_error(None, str(no))
        else:
            return redirect("work:own-quiz", made.pk)
    page = paginate(request, own_quizzes(request.user), per_page=12)
    return render(
        request,
        "assessments/test_me.html",
        {"form": form, "page": page, "closed": len(closed)},
        status=422 if request.method == "POST" else 200,
    )


def _initial(request: HttpRequest) -> dict[str, Any]:
    get = request.GET
    initial: dict[str, Any] = {"minutes": get.get("minutes", "2"), "kind": get.get("kind", "any")}
    for name in ("tune", "first", "last", "progression"):
        if (number := number_of(get.get(name))) is not None:
            initial[name] = number
    source = "tune" if "tune" in initial else "progression" if "progression" in initial else get.get("source", "mix")
    return initial | {"source": source, "section": get.get("section", "")[:12]}


def _own(request: HttpRequest, pk: int) -> OwnQuiz:
    return get_object_or_404(OwnQuiz, pk=pk, player=request.user)


def _closed(request: HttpRequest, quiz: OwnQuiz) -> list[str]:
    """Why the quiz may not be shown for now: an assignment has asked for one of its tunes since."""
    found = answers_to_come(request.user, {part["tune"] for part in quiz.parts})
    return [f"{part['title']}: {found[part['tune']]}" for part in quiz.parts if part["tune"] in found]


@login_required
@require_GET
def own_quiz(request: HttpRequest, pk: int) -> HttpResponse:
    """The quiz while it is open; what came of it afterwards."""
    found = _own(request, pk)
    if closed := _closed(request, found):
        return render(request, "assessments/own_closed.html", {"quiz": found, "closed": list(dict.fromkeys(closed))})
    if found.is_open:
        return _page(request, found)
    results = own_results(found)
    missed = sum(row.points < 1 for result in results for _, rows in result.bars for row in rows)
    return render(
        request,
        "assessments/own_feedback.html",
        {"quiz": found, "results": results, "rules": marking_rules(), "missed": missed, "by_heart": BY_HEART},
    )


def _page(request: HttpRequest, found: OwnQuiz) -> HttpResponse:
    page: OwnPage = own_page(found)
    wish = Wish.from_json(found.wish)
    return render(
        request,
        "assessments/own_quiz.html",
        {
            "quiz": found,
            "page": page,
            "numbers": wish.kind == NUMBERS,
            "data": {
                "attempt": f"own-{found.pk}",
                "home": "",
                "written": "P1",
                "versions": {field.id: field.version for field in page.fields},
                "times": {},
            },
        },
    )


@login_required
@require_http_methods(["GET", "POST"])
def own_save(request: HttpRequest, pk: int) -> JsonResponse:
    """Save the fields of one window, as `quiz.save` does. GET: what stands now."""
    found = _own(request, pk)
    if request.method == "GET":
        rows = [
            {"q": name, "text": row[0], "version": row[1], "at": row[4][11:16]} for name, row in found.answers.items()
        ]
        return JsonResponse({"open": found.is_open, "answers": rows})
    try:
        client, saves = _read_saves(request)
    except ValueError as error:
        return JsonResponse({"problem": str(error)}, status=400)
    quiz, results = services.save(quiz_id=pk, player_id=int(request.user.pk or 0), client=client, saves=saves)
    at = next((_as_json(result)["at"] for result in results if result.saved), "")
    return JsonResponse({"open": quiz.is_open, "at": at, "results": [_as_json(result) for result in results]})


@login_required
@require_POST
def own_hand_in(request: MemberRequest, pk: int) -> HttpResponse:
    """Mark it. Twice does nothing twice. A page without scripts sends its fields along."""
    found = _own(request, pk)
    if _closed(request, found):
        return redirect("work:own-quiz", pk)
    if request.POST.get("plain") and found.is_open:
        _save_plain(request, found)
    services.hand_in(quiz_id=pk, player=request.user)
    return redirect("work:own-quiz", pk)


def _save_plain(request: HttpRequest, found: OwnQuiz) -> None:
    last = max((row[3] for row in found.answers.values()), default=0)
    saves = []
    for name in (question["id"] for question in found.asked):
        text = request.POST.get(f"q-{name}")
        if text is not None:
            last += 1
            saves.append(Save(name, _text(text, 400), last, 2**30))
    if saves:
        services.save(quiz_id=found.pk, player_id=found.player_id, client=PLAIN_CLIENT, saves=saves)


@login_required
@require_POST
def own_again(request: MemberRequest, pk: int) -> HttpResponse:
    """The same once more, with other places drawn."""
    found = _own(request, pk)
    if not found.wish:
        raise Http404
    try:
        made = services.start(player=request.user, wish=Wish.from_json(found.wish))
    except services.NothingToAsk as no:
        messages.error(request, str(no))
        return redirect("work:test-me")
    return redirect("work:own-quiz", made.pk)
