"""The exercise page, and what a run is scored as."""

from __future__ import annotations

import json
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_POST, require_safe

from studio.requests import MemberRequest
from tunes.access import refuse_held_chords
from tunes.models import EarResult, Tune
from tunes.recordings.charts import form_chart, form_revision
from tunes.recordings.selectors import caution_due
from tunes.study import chart_of
from tunes.top_of_form.plan import MOST_CHORUSES, make_plan
from tunes.top_of_form.score import advice, next_tempo, score_taps

SILENCES = (("none", "none"), ("growing", "growing"), ("long", "half of every chorus"))
MOST_TAPS = 400


def _choice(value: str | None, low: int, high: int, default: int) -> int:
    number = int(value) if value and value.isascii() and value.isdigit() and len(value) < 6 else default
    return max(low, min(high, number))


def _settings(data: Any, tune: Tune) -> dict[str, Any]:
    silence = data.get("silence", "growing")
    return {
        "choruses": _choice(data.get("choruses"), 1, MOST_CHORUSES, 3),
        "tempo": _choice(data.get("tempo"), 40, 320, tune.tempo_low or 100),
        "silence": silence if silence in dict(SILENCES) else "growing",
    }


@require_safe
@login_required
def page(request: MemberRequest, tune: int) -> HttpResponse:
    """Tap each top and each bridge while the app keeps the time and hides the changes."""
    found = get_object_or_404(Tune, pk=tune)
    refuse_held_chords(request.user, found)
    chart = form_chart(found)
    results = EarResult.objects.filter(player=request.user, tune=found, kind=EarResult.Kind.TOP_OF_FORM)
    chosen = _settings(request.GET, found)
    context: dict[str, Any] = {
        "tune": found, "chart": chart, "chosen": chosen, "silences": SILENCES, "results": list(results[:8]),
        "most": MOST_CHORUSES, "caution": caution_due(request.user, "hearing"),
    }  # fmt: skip
    if chart is not None:
        plan = make_plan(chart, chosen["choruses"], chosen["silence"])
        context["plan"] = plan
        context["page_data"] = plan.to_json() | {"tempo": chosen["tempo"], "metre": chart.metre.beats}
    return render(request, "tunes/versions/top_of_form.html", context)


@require_POST
@login_required
def finish(request: MemberRequest, tune: int) -> JsonResponse:
    """Score one run. The taps are beats from the first downbeat; the form is worked out here anew."""
    found = get_object_or_404(Tune, pk=tune)
    revision = form_revision(found)
    taps = _taps(request.POST.get("taps", ""))
    if revision is None or taps is None:
        return JsonResponse({"problem": "The run could not be read. Play it again."}, status=422)
    chosen = _settings(request.POST, found)
    chart = chart_of(revision.text)
    plan = make_plan(chart, chosen["choruses"], chosen["silence"])
    result = score_taps(plan.places, taps, float(chart.metre.beats * 4 / chart.metre.unit))
    tempo = next_tempo(chosen["tempo"], result.held, found.tempo_high or 240)
    EarResult.objects.create(
        player=request.user,
        tune=found,
        kind=EarResult.Kind.TOP_OF_FORM,
        score=result.score,
        detail=chosen
        | {"held": result.held, "stray": result.stray, "off": round(result.mean_off, 2), "revision": revision.pk},
    )
    return JsonResponse({
        "score": round(result.score * 100), "held": result.held, "stray": result.stray, "next_tempo": tempo,
        "off": round(result.mean_off, 2), "advice": advice(chosen["tempo"], result.held, tempo),
        "places": [
            {"kind": t.place.kind, "chorus": t.place.chorus, "silent": t.place.silent, "verdict": t.verdict}
            for t in result.places
        ],
    })  # fmt: skip


def _taps(text: str) -> list[float] | None:
    try:
        rows = json.loads(text)
        taps = [float(row) for row in rows]
    except (ValueError, TypeError, RecursionError, OverflowError):
        return None
    inside = [tap for tap in taps if -64 <= tap <= 100_000]
    return inside if len(inside) == len(taps) <= MOST_TAPS else None
