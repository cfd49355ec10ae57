"""The changes at a keyboard: the page, one chord judged, a chorus noted as practice."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django import forms
from django.db import transaction
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_safe

from drills import bands
from drills.access import analysis_is_open
from drills.band.feel import swing_ratio
from drills.forms import TEMPO_HIGH, TEMPO_LOW
from drills.lines.build import PIANO, Recipe
from drills.lines.passage import EmptyPassage
from drills.models import Practice
from drills.services import practice
from drills.sheets import Material
from drills.views.band import tempo_of
from drills.views.drill import material_or_404
from drills.wishes import Wish
from studio.instruments import CONCERT
from studio.models import User
from tunes.access import signed_in_required
from tunes.by_ear.views import KEYS
from tunes.drawing import draw_study
from tunes.models import EarResult
from tunes.pitch import Sight, pitch_label, read_sight

from .chorus import Chorus, NotPlayable, Row, judged_chorus, read_notes, read_played
from .judge import RIGHT_FROM

# How a chorus went, by its share: common practice, no source.
WENT = ((0.95, Practice.Went.WITH_EASE), (0.85, Practice.Went.STEADY), (0.6, Practice.Went.WITH_SLIPS))


class PlayedForm(forms.Form):
    """A chorus that was played."""

    played = forms.CharField(max_length=40_000)
    tempo = forms.IntegerField(min_value=TEMPO_LOW, max_value=TEMPO_HIGH)
    token = forms.UUIDField()
    in_time = forms.BooleanField(required=False)


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in_required
def page(request: HttpRequest, revision: int) -> HttpResponse:
    """The chart in concert pitch and the keys; a POST notes a chorus and says chord by chord what it was."""
    material = material_or_404(revision)
    tune = material.revision.version.tune
    is_open = analysis_is_open(request.user, tune)
    sight = replace(read_sight(request.GET, request.user), instrument=CONCERT)
    chorus = Chorus(material, sight.key)
    context: dict[str, Any] = {
        "tune": tune,
        "revision": material.revision,
        "sight_query": sight.query(),
        "is_open": is_open,
    }
    try:
        context |= _asked(chorus, sight, material)
    except EmptyPassage as error:
        return render(request, "drills/keyboard/page.html", context | {"problem": str(error)})
    if request.method != "POST":
        return render(request, "drills/keyboard/page.html", context)
    form = PlayedForm(request.POST)
    try:
        if not form.is_valid():
            raise NotPlayable("What was played could not be read. Play it again.")
        data = form.cleaned_data
        rows, score = judged_chorus(chorus, read_played(data["played"]), in_time=data["in_time"])
    except NotPlayable as error:
        return render(request, "drills/keyboard/page.html", context | {"warning": str(error)}, status=422)
    enough = len(rows) * 2 >= len(chorus.chords)
    done = _noted(request.user, material, data, rows, score) if enough else None  # type: ignore[arg-type]
    return render(request, "drills/keyboard/result.html", context | {"rows": rows, "score": score, "done": done,
                  "right": sum(row.right for row in rows)})  # fmt: skip


def _asked(chorus: Chorus, sight: Sight, material: Material) -> dict[str, Any]:
    tune = material.revision.version.tune
    styles = bands.styles_of(material.study)
    tempo = tempo_of(tune)
    return {
        "chart": draw_study(chorus.study, analysed=False), "pitch": pitch_label(chorus.study, sight, chorus.study.key),
        "styles": styles, "style": bands.usual_style(tune, styles), "tempo": tempo, "low": TEMPO_LOW, "high": TEMPO_HIGH,
        "beats": range(1, int(bands.usual_length(material.study)) + 1), "keyboard": KEYS,
        "setting": {
            "tempo": tempo, "low": TEMPO_LOW, "high": TEMPO_HIGH, "key": sight.key.tonic.text if sight.key else "",
            "chords": chorus.as_data(), "right_from": RIGHT_FROM,
            "swings": {str(pace): round(swing_ratio(pace), 2) for pace in range(TEMPO_LOW, TEMPO_HIGH + 1)},
        },
    }  # fmt: skip


def _noted(user: User, material: Material, data: dict[str, Any], rows: list[Row], score: float) -> Practice:
    """Practice of the shells on this chart, and the evidence of the chorus: once for each token."""
    went = next((word for share, word in WENT if score >= share), Practice.Went.FELL_APART)
    token, tune = str(data["token"]), material.revision.version.tune
    done = practice.record(
        user=user, revision=material.revision, wish=Wish(Recipe(PIANO, "shells")), tempo=data["tempo"], went=went, token=token
    )  # fmt: skip
    with transaction.atomic():
        User.objects.select_for_update().get(pk=user.pk)
        kept = EarResult.objects.filter(player=user, tune=tune, kind=EarResult.Kind.AT_THE_PIANO, detail__token=token)
        if not kept.exists():
            detail = {
                "token": token, "tempo": data["tempo"], "revision": material.revision.pk,
                "missed": sorted({row.bar for row in rows if not row.right}),
            }  # fmt: skip
            EarResult.objects.create(
                player=user, tune=tune, kind=EarResult.Kind.AT_THE_PIANO, score=score, detail=detail
            )
    return done


@require_safe
@signed_in_required
def judge_chord(request: HttpRequest, revision: int) -> JsonResponse:
    """What a handful of keys is to one chord: `event`, `notes` (MIDI numbers, sounding). 422 says what is wrong."""
    material = material_or_404(revision)
    analysis_is_open(request.user, material.revision.version.tune)
    sight = read_sight(request.GET, request.user)
    event = request.GET.get("event", "")
    try:
        notes = read_notes(request.GET.get("notes", "")[:200])
        if not (event.isascii() and event.isdigit() and len(event) < 6):
            raise NotPlayable("There is no such chord in this chart any more. Load the page again.")
        heard = Chorus(material, sight.key).judged(int(event), notes)
    except (NotPlayable, EmptyPassage) as error:
        return JsonResponse({"problem": str(error)}, status=422)
    return JsonResponse(
        {"id": heard.verdict.id, "name": heard.verdict.name, "sentence": heard.sentence, "credit": heard.credit,
         "right": heard.credit >= RIGHT_FROM}
    )  # fmt: skip
