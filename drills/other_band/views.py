"""The other band: the page, its choruses as sound alone, how a bar was understood, the answer, and both ways to hear again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.crypto import get_random_string
from django.views.decorators.http import require_http_methods, require_safe

from drills import bands
from drills.access import analysis_is_open
from drills.band.feel import swing_ratio
from drills.forms import TEMPO_HIGH, TEMPO_LOW
from drills.lines.passage import EmptyPassage
from drills.sheets import Material
from drills.views.band import tempo_of
from drills.views.drill import material_or_404
from tunes.access import signed_in_required
from tunes.by_ear.reading import BarReading, read_chords
from tunes.by_ear.views import KEYS
from tunes.drawing import draw_study
from tunes.harmony.charts.bar_count import bar_name
from tunes.harmony.pitch.spelling import NoteName, SpellingError
from tunes.pitch import Sight, pitch_label, read_sight, seen
from tunes.study import StudyChart
from tunes.versions.selectors import newest_texts

from . import record
from .draw import AMOUNTS, LEAST_CHORUSES, MOST_CHORUSES, USUAL_CHORUSES
from .judge import Said, judge
from .sheet import SHOWN_SALT, Choice, Round, others_of, read_choice
from .words import shown_bars

NEW_CHARTS = "The charts have changed since this round was drawn, or it is more than a day old. Here is a fresh one."
AROUND = 1  # bars heard before and after a bar that is heard again


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in_required
def page(request: HttpRequest, revision: int) -> HttpResponse:
    """The chart, the band that goes another way in one chorus, and what is asked about it; a POST answers."""
    material = material_or_404(revision)
    tune = material.revision.version.tune
    is_open = analysis_is_open(request.user, tune)
    sight = read_sight(request.GET, request.user)
    context: dict[str, Any] = {"tune": tune, "revision": material.revision, "sight_query": sight.query()}
    if not is_open:
        return render(request, "drills/other_band/page.html", context | {"held": True})
    newest = newest_texts(tune)
    if request.method == "POST":
        return _answered(request, material, newest, sight, context)
    return _fresh(request, material, newest, sight, context)


def _fresh(
    request: HttpRequest, material: Material, newest: Any, sight: Sight, context: dict[str, Any], *, status: int = 200
) -> HttpResponse:
    """A round drawn now; `seed` in the address draws the same again."""
    asked, others = request.GET, others_of(material, newest)
    seed = _number(asked.get("seed"), 1, 99_999_999, 0) or int(get_random_string(8, "123456789"))
    version = _number(asked.get("version"), 0, 2**31, 0)
    choice = Choice(
        material.revision.pk, tuple(row.pk for row in others), seed,
        asked["amount"] if asked.get("amount") in AMOUNTS else "one",
        _number(asked.get("choruses"), LEAST_CHORUSES, MOST_CHORUSES, USUAL_CHORUSES),
        version if version in {row.version_id for row in others} else 0,
        record.known_changes(request.user, material.revision.version.tune),  # type: ignore[arg-type]
    )  # fmt: skip
    found = Round(choice, material, others)
    return _asked(request, found, sight, context, status=status)


def _asked(
    request: HttpRequest, found: Round, sight: Sight, context: dict[str, Any], *, status: int = 200
) -> HttpResponse:
    """The page with the band and the questions; what was typed stands in them."""
    material = found.material
    shown = seen(material.study, sight)
    concert = material.study.transposed(sight.key) if sight.key else material.study
    context |= {
        "chart": draw_study(shown, analysed=False), "pitch": pitch_label(shown, sight, concert.key), "amounts": AMOUNTS,
        "choice": found.choice, "sheet": found.choice.signed(), "others": found.others, "choruses": range(LEAST_CHORUSES, MOST_CHORUSES + 1),
        "sight": sight,
    }  # fmt: skip
    try:
        styles = bands.styles_of(material.study)
    except EmptyPassage as error:
        return render(request, "drills/other_band/page.html", context | {"problem": str(error)}, status=status)
    if found.drawn is None:
        nothing = "Nothing here can be played another way: no other version differs, and no rule of substitution fits."
        return render(request, "drills/other_band/page.html", context | {"problem": nothing}, status=status)
    tempo = tempo_of(material.revision.version.tune)
    agreed = seen(found.agreed, sight)
    context |= {
        "styles": styles, "style": bands.usual_style(material.revision.version.tune, styles), "tempo": tempo, "low": TEMPO_LOW,
        "high": TEMPO_HIGH, "beats": range(1, int(bands.usual_length(material.study)) + 1),
        "keyboard": KEYS, "chord_url": reverse("tunes:by-ear-chord"), "chord_key": shown.key.text,
        "chord_up": sight.instrument.interval.semitones,
        "bars": _bar_rows(agreed, request.POST if request.method == "POST" else {}),
        "setting": _setting(found, tempo, sight),
    }  # fmt: skip
    return render(request, "drills/other_band/page.html", context, status=status)


def _setting(found: Round, tempo: int, sight: Sight) -> dict[str, Any]:
    return {
        "tempo": tempo, "low": TEMPO_LOW, "high": TEMPO_HIGH, "choruses": found.choice.choruses, "sheet": found.choice.signed(),
        "key": sight.key.tonic.text if sight.key else "",
        "swings": _swings(),
    }  # fmt: skip


def _swings() -> dict[str, float]:
    return {str(pace): round(swing_ratio(pace), 2) for pace in range(TEMPO_LOW, TEMPO_HIGH + 1)}


def _bar_rows(agreed: StudyChart, given: Mapping[str, str]) -> list[dict[str, Any]]:
    """Every bar that can be named, with what is written in it and what was typed about it."""
    rows = []
    for place, bar in enumerate(agreed.chart.bars):
        if bar.is_pickup:
            continue
        chords = given.get(f"chords-{place}", "")
        rows.append(
            {"place": place, "number": bar.number, "name": bar_name(bar.number), "written": [s.symbol for s in bar.slots if s.symbol],
             "named": f"bar-{place}" in given, "chords": chords, "guide": given.get(f"guide-{place}", ""),
             "reading": read_chords(chords, bar.metre) if chords.strip() else BarReading(),
             "problem": _guide_problem(given.get(f"guide-{place}", ""))}
        )  # fmt: skip
    return rows


def _answered(
    request: HttpRequest, material: Material, newest: Any, sight: Sight, context: dict[str, Any]
) -> HttpResponse:
    choice = read_choice(request.POST.get("sheet", ""))
    others = others_of(material, newest)
    fits = choice and choice.revision == material.revision.pk and choice.others == tuple(row.pk for row in others)
    found = Round(choice, material, others) if choice and fits else None
    if found is None or found.drawn is None:
        return _fresh(request, material, newest, sight, context | {"warning": NEW_CHARTS}, status=422)
    agreed, played = seen(found.agreed, sight), seen(found.played, sight)
    rows = [row for row in _bar_rows(agreed, request.POST) if row["named"]]
    if any(row["problem"] or row["reading"].problem for row in rows):
        context["warning"] = (
            "Something could not be read; what to type instead stands at its bar. Nothing is marked yet."
        )
        return _asked(request, found, sight, context, status=422)
    said = {row["place"]: Said(row["reading"] if row["chords"].strip() else None, _note(row["guide"])) for row in rows}
    judged = judge(agreed, played, sorted(found.drawn.bars), said)
    result = record.record(user=request.user, tune=context["tune"], round_=found, judged=judged)  # type: ignore[arg-type]
    context |= {
        "judged": judged, "result": result, "rows": shown_bars(found, judged, played), "drawn": found.drawn, "choice": choice,
        "shown": found.choice.signed(SHOWN_SALT), "tempo": tempo_of(context["tune"]), "key": sight.key.tonic.text if sight.key else "",
        "pitch": _label(material, sight), "setting": {"swings": _swings()},
    }  # fmt: skip
    return render(request, "drills/other_band/answer.html", context)


def _label(material: Material, sight: Sight) -> str:
    concert = material.study.transposed(sight.key) if sight.key else material.study
    return pitch_label(seen(material.study, sight), sight, concert.key)


def _number(text: str | None, low: int, high: int, usual: int) -> int:
    number = int(text) if text and text.isascii() and text.isdigit() and len(text) < 11 else usual
    return max(low, min(high, number)) if text else usual


def _note(text: str) -> NoteName | None:
    word = text.strip()
    try:
        return NoteName.parse(word[:1].upper() + word[1:]) if word else None
    except SpellingError:
        return None


def _guide_problem(text: str) -> str:
    if not text.strip() or _note(text) is not None:
        return ""
    return f"“{text.strip()[:12]}” is not a note. Type C, Bb or F#."


# --- sound and echo


@require_safe
@signed_in_required
def chorus(request: HttpRequest, revision: int) -> HttpResponse:
    """One chorus of a round as sound: `sheet`, `number` (from 1), `style`, `seed`. No chord is named."""
    material = material_or_404(revision)
    if not analysis_is_open(request.user, material.revision.version.tune):
        raise Http404("There is nothing to hear here yet.")
    found = _round(request, material, "sheet")
    if found is None:
        return JsonResponse({"problem": "This round can no longer be played. Draw a fresh one."}, status=422)
    assert found.drawn is not None
    other = _number(request.GET.get("number"), 1, MOST_CHORUSES, 1) == found.drawn.chorus
    return _sound(request, found, found.played if other else found.agreed)


def _round(request: HttpRequest, material: Material, name: str) -> Round | None:
    """The round that the address names, if it was drawn from this chart and can still be played."""
    choice = read_choice(request.GET.get(name, ""), **({"salt": SHOWN_SALT} if name == "shown" else {}))
    if choice is None or choice.revision != material.revision.pk:
        return None
    others = others_of(material, newest_texts(material.revision.version.tune))
    found = Round(choice, material, others)
    return found if choice.others == tuple(row.pk for row in others) and found.drawn is not None else None


def _sound(request: HttpRequest, found: Round, study: StudyChart, bars: tuple[int, int] | None = None) -> HttpResponse:
    sight = read_sight(request.GET, request.user)
    style, seed = request.GET.get("style", ""), request.GET.get("seed", "1")[:40]
    try:
        sound = bands.in_band_sound(bands.chorus_over(study, None, style=style, seed=seed, key=sight.key))
    except EmptyPassage as error:
        return JsonResponse({"problem": str(error)}, status=422)
    return JsonResponse(cut(sound, *bars) if bars else sound)


@require_safe
@signed_in_required
def again(request: HttpRequest, revision: int) -> HttpResponse:
    """A bar with those around it, `way` "written" or "played": only with what a page got together with the answer."""
    material = material_or_404(revision)
    analysis_is_open(request.user, material.revision.version.tune)
    found = _round(request, material, "shown")
    if found is None:
        return JsonResponse({"problem": "This round can no longer be heard. Draw a fresh one."}, status=422)
    last = len(found.agreed.chart.bars) - 1
    place = _number(request.GET.get("bar"), 0, last, 0)
    study = found.played if request.GET.get("way") == "played" else found.agreed
    return _sound(request, found, study, (max(0, place - AROUND), min(last, place + AROUND)))


def cut(sound: dict[str, Any], first: int, last: int) -> dict[str, Any]:
    """Some bars of a chorus as sound, from their own beginning: what begins in them, as far as their end."""
    bars = sound["bars"][first : last + 1]
    start, end = bars[0][1], bars[-1][1] + bars[-1][2]

    def inside(rows: list[Any], lasting: bool) -> list[Any]:
        kept = []
        for at, *rest in rows:
            if start <= at < end:
                kept.append([at - start, *([min(rest[0], end - at), *rest[1:]] if lasting else rest)])
        return kept

    return sound | {
        "bars": [[number, at - start, *rest] for number, at, *rest in bars], "bass": inside(sound["bass"], True),
        "piano": inside(sound["piano"], True), "drums": inside(sound["drums"], False),
    }  # fmt: skip


@require_safe
@signed_in_required
def echo(request: HttpRequest, revision: int) -> JsonResponse:
    """How the chords typed for a bar are understood, never whether they are right: `bar` (its place), `text`."""
    material = material_or_404(revision)
    analysis_is_open(request.user, material.revision.version.tune)
    bars = material.study.chart.unfold()
    place = _number(request.GET.get("bar"), 0, len(bars) - 1, 0)
    text = request.GET.get("text", "")[:120]
    reading = read_chords(text, material.study.chart.bars[bars[place].bar].metre) if text.strip() else BarReading()
    return JsonResponse({"echo": reading.echo, "problem": reading.problem})
