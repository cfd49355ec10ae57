"""Where drills begin: the tunes to choose from, the plan of the next session, the log."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from drills import selectors
from drills.access import packs_seen
from drills.forms import HabitForm
from drills.planning import Planned
from drills.services import practice as services
from studio.access import is_instructor
from studio.web import paginate
from tunes.access import signed_in_required

CREDIT = "After the student advice of the National Association of Schools of Music and the Performing Arts Medicine Association (NASM–PAMA, 2011)"


@require_safe
@signed_in_required
def index(request: HttpRequest) -> HttpResponse:
    """Charts to make drills of, and what is planned next."""
    page = paginate(request, selectors.charts_to_practise(), per_page=30)
    tunes = {version.tune_id for version in page}
    planned, shut = services.plan_and_closed(request.user, size=3, also=tunes)  # type: ignore[arg-type]
    context = {
        "page": page, "closed": shut,
        "plan": _addressed(planned), "packs": packs_seen(request.user)[:3], "may_pack": is_instructor(request.user),
    }  # fmt: skip
    return render(request, "drills/index.html", context)


def _plan(request: HttpRequest, size: int) -> list[dict[str, Any]]:
    planned = services.plan_for(request.user, size=size)  # type: ignore[arg-type]
    return _addressed(planned)


def _addressed(planned: list[Planned]) -> list[dict[str, Any]]:
    return [{"drill": drill, "url": drill.url or _address(drill)} for drill in planned]


def _address(drill: Planned) -> str:
    return f"{reverse('drills:drill', args=[drill.revision])}?{urlencode(drill.wish | {'tempo': drill.tempo})}"


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in_required
def practice(request: HttpRequest) -> HttpResponse:
    """The next session with its reasons, the log, rests and cautions. POST keeps the wishes about rests."""
    habit = selectors.habit(request.user)  # type: ignore[arg-type]
    form = HabitForm(request.POST if request.method == "POST" else None, instance=habit, auto_id="habit-%s")
    if request.method == "POST" and form.is_valid():
        services.set_habit(user=request.user, **form.cleaned_data)  # type: ignore[arg-type]
        return redirect("drills:practice")
    context = {
        "plan": _plan(request, habit.session), "habit": habit, "form": form, "credit": CREDIT,
        "log": paginate(request, selectors.log(request.user), per_page=20),  # type: ignore[arg-type]
    }  # fmt: skip
    return render(request, "drills/practice.html", context, status=422 if form.errors else 200)
