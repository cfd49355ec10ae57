"""What every page with a drawn chart needs: the study as this person sees it, the drawing, the picker."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse

from studio.access import can_edit_repertoire
from studio.instruments import instrument_choices
from tunes.access import holds
from tunes.drawing import draw_study
from tunes.engine import name_form
from tunes.models import ChartRevision
from tunes.pitch import SHOWS, Sight, chair_choices, key_choices, pitch_label, read_sight, seen
from tunes.study import ChartUnreadable, StudyChart, study_chart

KEPT = "chart"  # the cookie


def sheet_context(request: HttpRequest, revision: ChartRevision) -> dict[str, Any]:
    """The context of `tunes/_sheet.html` for one revision. `closed` instead of a chart while its chords are held back."""
    kept = {"show": request.COOKIES.get(KEPT, "")}
    sight = read_sight({**kept, **request.GET.dict()}, request.user)
    tune = revision.version.tune
    hold = holds(request.user, [tune]).get(tune.pk)
    held = hold.reason if hold and hold.analysis else ""
    context: dict[str, Any] = {
        "revision": revision,
        "sight": sight,
        "held": held,
        "tune": tune,
        "form_held": hold.form if hold else "",
    }
    if hold and hold.chords:
        return context | {"closed": hold}
    try:
        concert = study_chart(revision)
    except ChartUnreadable as problem:
        return context | {"unreadable": str(problem)}
    shown = seen(concert, sight)
    return context | {
        "study": shown,
        "chart": draw_study(
            shown, written_out=sight.written_out, analysed=sight.analysed and not held, compact=sight.compact
        ),
        "words": sight.words,
        "shows": SHOWS.items(),
        "key_of_chart": concert.key,
        "form_named": None if context["form_held"] else name_form(shown.chart),
        "pitch": pitch_label(shown, sight, shown_concert(concert, sight).key),
        "keys": key_choices(concert),
        "instruments": instrument_choices(),
        "sight_query": sight.query(),
        "chairs": chair_choices(request.user, sight),
        "may_edit": can_edit_repertoire(request.user),
    }


def keep_show(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """How much of a chart this device last asked for is what it gets without asking."""
    show = request.GET.get("show", "")
    if show in SHOWS and show != request.COOKIES.get(KEPT):
        response.set_cookie(KEPT, show, max_age=365 * 24 * 3600, samesite="Lax", httponly=True)
    return response


def shown_concert(study: StudyChart, sight: Sight) -> StudyChart:
    """The study in the concert key that the sight asks for."""
    return study.transposed(sight.key) if sight.key else study
