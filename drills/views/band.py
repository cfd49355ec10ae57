"""A band to play with: the page, one chorus at a time as data, and the parts to take away."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from drills import bands
from drills.access import analysis_is_open
from drills.band.chorus import Chorus, bass_as_line, piano_as_line
from drills.band.feel import swing_ratio
from drills.forms import TEMPO_HIGH, TEMPO_LOW
from drills.lines.passage import EmptyPassage
from drills.sheets import Material
from drills.takes.melody import sounding
from drills.takes.record import form_recorder
from drills.views.drill import ENDINGS, TYPES, material_or_404
from studio.web import is_part, render_part, with_microphone
from tunes.access import melody_asked, signed_in_required
from tunes.drawing import draw_study
from tunes.harmony.pitch.spelling import Key, SpellingError, sensible
from tunes.models import Tune
from tunes.pitch import Sight, key_choices, pitch_label, read_sight, seen

USUAL_TEMPO = 120
PARTS: dict[str, Callable[[Chorus, str], Any]] = {"bass": bass_as_line, "piano": piano_as_line}


@with_microphone
@require_safe
@signed_in_required
def page(request: HttpRequest, revision: int) -> HttpResponse:
    """The chart and the band; an htmx request gets the chart alone, in the key it asks for."""
    material = material_or_404(revision)
    tune = material.revision.version.tune
    is_open = analysis_is_open(request.user, tune)
    sight = read_sight(request.GET, request.user)
    shown = seen(material.study, sight)
    concert = material.study.transposed(sight.key) if sight.key else material.study
    context: dict[str, Any] = {
        "chart": draw_study(shown, analysed=is_open and sight.analysed), "pitch": pitch_label(shown, sight, concert.key),
        "words": sight.words, "tune": tune, "revision": material.revision, "is_open": is_open,
    }  # fmt: skip
    if is_part(request):
        return render_part(request, "drills/band.html", "drills/_band_chart.html", context)
    try:
        styles = bands.styles_of(material.study)
    except EmptyPassage as error:
        return render_part(request, "drills/band.html", "drills/_band_chart.html", context | {"problem": str(error)})
    tempo = tempo_of(tune)
    style = bands.usual_style(tune, styles)
    swings = next(one.swing for one in styles if one.id == style)
    context["record"] = form_recorder(request.user, material, sight, tempo=tempo, style=style, swings=bool(swings))
    context |= {
        "styles": styles, "style": style, "tempo": tempo, "keys": _keys(material, sight), "low": TEMPO_LOW, "high": TEMPO_HIGH,
        "beats": range(1, int(bands.usual_length(material.study)) + 1), "sight_query": sight.query(key=None),
        "setting": _setting(material, sight, tempo) | _melody_first(request.user, material),
    }  # fmt: skip
    return render_part(request, "drills/band.html", "drills/_band_chart.html", context)


def tempo_of(tune: Tune) -> int:
    """Where a tune is usually played: the middle of its range, or the end that is known."""
    known = [tempo for tempo in (tune.tempo_low, tune.tempo_high) if tempo]
    return min(max(sum(known) // len(known), TEMPO_LOW), TEMPO_HIGH) if known else USUAL_TEMPO


def _keys(material: Material, sight: Sight) -> list[dict[str, Any]]:
    """Concert keys to choose from, each with its name as the player reads it and how far from the chart's it lies (`up`,
    semitones, −5 to 6)."""
    own = material.study.key
    found = []
    for value, _ in key_choices(material.study):
        concert = Key.parse(value + (" minor" if own.mode == "minor" else "")) if value else own
        written = sensible(concert.transposed(sight.instrument.interval.simple))
        up = (concert.tonic.pc - own.tonic.pc + 5) % 12 - 5
        found.append({"value": value, "name": written.display, "short": written.tonic.display, "up": up})
    return found


def _melody_first(user: Any, material: Material) -> dict[str, Any]:
    """The kept melody as it sounds ([start, length, MIDI pitch], crotchets), for those who are not asked for it by ear."""
    if material.melody is None or melody_asked(user, material.revision.version.tune_id):
        return {}
    return {
        "melody": [
            [float(at), float(length), pitch.midi] for at, length, pitch in sounding(material.study, material.melody)
        ]
    }


def _setting(material: Material, sight: Sight, tempo: int) -> dict[str, Any]:
    """What the page's script needs beside the choruses."""
    return {
        "revision": material.revision.pk, "tempo": tempo, "low": TEMPO_LOW, "high": TEMPO_HIGH,
        "keys": _keys(material, sight), "bars": bands.last_bar(material.study),
        "swings": {str(pace): round(swing_ratio(pace), 2) for pace in range(TEMPO_LOW, TEMPO_HIGH + 1)},
    }  # fmt: skip


@require_safe
@signed_in_required
def chorus(request: HttpRequest, revision: int) -> HttpResponse:
    """One chorus: `style`, `seed` (any text) and `key` (a concert key, none: the chart's own). 422 says what is wrong."""
    material = material_or_404(revision)
    analysis_is_open(request.user, material.revision.version.tune)
    try:
        return JsonResponse(bands.sound_of(material, **_asked(request)))
    except (EmptyPassage, SpellingError) as error:
        return JsonResponse({"problem": str(error)}, status=422)


def _asked(request: HttpRequest) -> dict[str, Any]:
    key = request.GET.get("key", "")
    return {
        "style": request.GET.get("style", ""), "seed": request.GET.get("seed", "1")[:40], "key": Key.parse(key) if key else None,
    }  # fmt: skip


@require_safe
@signed_in_required
def download(request: HttpRequest, revision: int, form: str) -> HttpResponse:
    """All three parts as MIDI, or one part (`part`: bass or piano) as MusicXML or PDF, in concert pitch."""
    if form not in TYPES:
        raise Http404("There is no such form.")
    material = material_or_404(revision)
    tune = material.revision.version.tune
    analysis_is_open(request.user, tune)
    part = request.GET.get("part", "bass")
    try:
        made = bands.chorus_of(material, **_asked(request))
    except (EmptyPassage, SpellingError) as error:
        return HttpResponse(str(error), status=422, content_type="text/plain; charset=utf-8")
    response = HttpResponse(_content(form, made, part if part in PARTS else "bass", tune), content_type=TYPES[form])
    name = slugify(f"{tune.title} {made.style.name} {'band' if form == 'midi' else part}") or "band"
    response["Content-Disposition"] = f'attachment; filename="{name}.{ENDINGS[form]}"'
    return response


def _content(form: str, made: Chorus, part: str, tune: Tune) -> bytes:
    title = f"{part.capitalize()}, {made.style.name[0].lower()}{made.style.name[1:]}"
    if form == "midi":
        from drills.band.exchange import to_midi

        return to_midi(made, tempo=tempo_of(tune), title=tune.title)
    line = PARTS[part](made, title)
    if form == "musicxml":
        from drills.musicxml import to_musicxml

        return to_musicxml(line, title=f"{tune.title}: {title}", part_name=part.capitalize()).encode()
    from drills.printing import booklet_of_lines, to_pdf

    return to_pdf(booklet_of_lines([line], tune=tune.title, credit=tune.composer, pitch="concert pitch"))
