"""The advice of a take: looked at while it is being heard, contested by its player, asked for again."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from drills.advice import services, writing
from drills.advice.page import advice_of
from drills.takes.access import may_comment, take_or_404
from drills.takes.models import Take
from tunes.access import refuse_held_chords, signed_in_required
from tunes.study import ChartUnreadable


def _take(request: HttpRequest, pk: int) -> Take:
    """A take that the person may hear, unless they have still to take its chords down by ear: a note names its chord."""
    take = take_or_404(request.user, pk)
    if take.revision is not None:
        refuse_held_chords(request.user, take.revision.version.tune)
    return take


@require_safe
@signed_in_required
def part(request: HttpRequest, pk: int) -> HttpResponse:
    """The advice alone, for a page that waits for it."""
    return _part(request, _take(request, pk))


@require_POST
@signed_in_required
def contest(request: HttpRequest, pk: int) -> HttpResponse:
    """Its player says that a note was played as written (or, with `back`, takes that back)."""
    take = _take(request, pk)
    if take.player_id != request.user.pk:
        raise PermissionDenied
    try:
        services.contest(take=take, note=request.POST.get("note", "")[:20], back="back" in request.POST)
    except services.UnknownNote:
        return _answer(request, take, problem="That note is not in this advice any more. Reload the page.", status=409)
    return _answer(request, take)


@require_POST
@signed_in_required
def again(request: HttpRequest, pk: int) -> HttpResponse:
    """Have it heard, or heard anew."""
    take = _take(request, pk)
    services.ask(take, again=True)
    return _answer(request, take)


def _answer(request: HttpRequest, take: Take, problem: str = "", status: int = 200) -> HttpResponse:
    if problem or request.headers.get("HX-Request"):
        return _part(request, take, problem, status)
    return redirect(reverse("drills:take", args=[take.pk]))


def _part(request: HttpRequest, take: Take, problem: str = "", status: int = 200) -> HttpResponse:
    context = {
        "take": take, "advice": advice_of(take), "mine": take.player_id == request.user.pk,
        "commenting": may_comment(request.user, take), "problem": problem,
    }  # fmt: skip
    return render(request, "drills/takes/_advice.html", context, status=status)


@require_POST
@signed_in_required
def write_down(request: HttpRequest, pk: int) -> HttpResponse:
    """What was heard of a solo, on the staves of "writing a solo down" of its player."""
    take = _take(request, pk)
    if take.player_id != request.user.pk:
        raise PermissionDenied
    try:
        solo, remarks = writing.write_down(take)
    except (writing.NothingToWrite, ChartUnreadable) as problem:
        return _part(request, take, str(problem), 409)
    for remark in remarks:
        messages.info(request, remark)
    return redirect("tunes:solo-write", solo.pk)
