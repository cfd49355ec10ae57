"""One drill: chosen, engraved, heard, taken away as a file, marked as practised."""

from __future__ import annotations

import uuid
from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.text import slugify
from django.views.decorators.http import require_POST, require_safe

from drills import selectors, sheets
from drills.access import analysis_is_open
from drills.bands import swings
from drills.forms import DrillForm, PractisedForm, form_data
from drills.lines.line import Line
from drills.lines.passage import EmptyPassage
from drills.runs import runs
from drills.services import practice
from drills.sheets import Material
from drills.takes.plans import drill_plan
from drills.takes.record import recorder
from drills.wishes import Wish
from studio.access import instrument_of
from studio.instruments import CONCERT
from studio.web import render_part, with_microphone
from tunes.access import signed_in_required
from tunes.models import ChartRevision
from tunes.selectors import idioms
from tunes.solos.taken import taken_from
from tunes.study import ChartUnreadable

TYPES = {"musicxml": "application/vnd.recordare.musicxml+xml", "midi": "audio/midi", "pdf": "application/pdf"}
ENDINGS = {"musicxml": "musicxml", "midi": "mid", "pdf": "pdf"}


@with_microphone
@require_safe
@signed_in_required
def page(request: HttpRequest, revision: int) -> HttpResponse:
    """The choice of a drill and the drill itself; an htmx request gets the drill alone."""
    material = material_or_404(revision)
    found, study = material.revision, material.study
    is_open = analysis_is_open(request.user, found.version.tune)
    material = with_taken(material, request.user, is_open)
    own = instrument_of(request.user, request.GET.get("ensemble", "")) or CONCERT.key
    asked = request.GET.get("form") == "1"
    wish = Wish.from_query({} if asked else request.GET.dict(), instrument=own)
    form = DrillForm(
        request.GET if asked else form_data(wish),
        study=study,
        open_analysis=is_open,
        auto_id="drill-%s",
        runs=runs(study, idioms()) if is_open else None,
    )
    if asked and form.is_valid():
        wish = _with_layout(form.wish(), request)
    context: dict[str, Any] = {
        "form": form, "asked": asked, "revision": found, "tune": found.version.tune, "version": found.version,
        "wish": wish, "is_open": is_open, "rest_every": selectors.habit(request.user).rest_every,  # type: ignore[arg-type]
    }  # fmt: skip
    if not asked or form.is_valid():
        context |= _drawn(material, wish, is_open)
    if "sheet" in context:
        context["swings"] = swings(found.version.tune, study)
        plan = drill_plan(material, wish, open_analysis=is_open)
        context["record"] = recorder(request.user, plan, tune=found.version.tune.title, playing=context["sheet"].sound)
    return render_part(request, "drills/drill.html", "drills/_sheet.html", context)


def material_or_404(pk: int) -> Material:
    """A revision ready for drills; 404 for one that is not there or cannot be read."""
    found = selectors.material(pk)
    if found is None:
        raise Http404("There is no such chart.")
    try:
        found.study  # noqa: B018 (worked out here, so that an unreadable chart is a missing page)
    except ChartUnreadable as error:
        raise Http404(str(error)) from error
    return found


def with_taken(material: Material, user: Any, is_open: bool) -> Material:
    """With what a person took from solos on the tune into practice; nothing of it while readings are held back. Two queries."""
    if not is_open:
        return material
    return replace(material, taken=tuple(taken_from(user, material.revision.version.tune_id)))


def _with_layout(wish: Wish, request: HttpRequest) -> Wish:
    """What the form does not hold: which of the keys is shown, the seed of their order, bars to a line."""
    extra = Wish.from_query(request.GET.dict())
    return Wish(
        wish.recipe, wish.instrument, wish.written, wish.order, extra.seed, extra.at, wish.functions, extra.per_system
    )


def _drawn(material: Material, wish: Wish, is_open: bool) -> dict[str, Any]:
    """The engraved sheet and what goes with it, or the reason why there is none."""
    try:
        sheet = sheets.sheet(material, wish, open_analysis=is_open)
    except EmptyPassage as error:
        return {"problem": str(error)}
    keys = [
        {"name": name, "query": wish.query(at=at), "current": at == min(wish.at, len(sheet.keys) - 1)}
        for at, name in enumerate(sheet.keys)
    ]
    return {
        "sheet": sheet, "keys": keys if len(keys) > 1 else [], "query": wish.query(),
        "reordered": wish.query(seed=wish.seed % 9999 + 1, at=0) if wish.order == "random" else "",
        "practised_form": PractisedForm(
            initial={"tempo": wish.recipe.tempo, "token": uuid.uuid4()}, auto_id="practised-%s"
        ),
    }  # fmt: skip


@require_safe
@signed_in_required
def download(request: HttpRequest, revision: int, form: str) -> HttpResponse:
    """The drill as MusicXML or MIDI (the key shown) or PDF (every key of it)."""
    if form not in TYPES:
        raise Http404("There is no such form.")
    material = material_or_404(revision)
    tune = material.revision.version.tune
    wish = Wish.from_query(request.GET.dict(), instrument=instrument_of(request.user))
    is_open = analysis_is_open(request.user, tune)
    material = with_taken(material, request.user, is_open)
    try:
        content = _content(form, material, wish, is_open)
    except EmptyPassage as error:
        return HttpResponse(str(error), status=422, content_type="text/plain; charset=utf-8")
    response = HttpResponse(content, content_type=TYPES[form])
    name = slugify(f"{tune.title} {wish.recipe.kind} {wish.player.key if wish.written else 'concert'}") or "drill"
    response["Content-Disposition"] = f'attachment; filename="{name}.{ENDINGS[form]}"'
    return response


def _content(form: str, material: Material, wish: Wish, is_open: bool) -> bytes:
    about = material.revision.version.tune
    study, melody, carried = material.study, material.melody, material.carried
    if form == "pdf":
        from drills.printing import booklet_of_lines, to_pdf

        lines = list(sheets.lines(study, wish, open_analysis=is_open, melody=melody, carried=carried))
        functions = wish.functions and is_open
        return to_pdf(
            booklet_of_lines(
                lines, tune=about.title, credit=about.composer, pitch=wish.pitch_label, functions=functions
            )
        )
    line, _ = sheets.line_shown(study, wish, open_analysis=is_open, melody=melody, carried=carried)
    return _score(line, wish, about.title) if form == "musicxml" else _midi(line, wish, about.title)


def _score(line: Line, wish: Wish, tune: str) -> bytes:
    from drills.musicxml import to_musicxml

    return to_musicxml(line, title=f"{tune}: {line.title}", part_name=wish.player.name).encode()


def _midi(line: Line, wish: Wish, tune: str) -> bytes:
    from drills.midi import to_midi

    return to_midi(line, tempo=wish.recipe.tempo, title=tune)


@require_POST
@signed_in_required
def practised(request: HttpRequest, revision: int) -> HttpResponse:
    """Log how it went. The drill is named by the query, exactly as on the page."""
    found = get_object_or_404(ChartRevision.objects.select_related("version__tune"), pk=revision)
    wish = Wish.from_query(request.GET.dict(), instrument=instrument_of(request.user))
    form = PractisedForm(request.POST, auto_id="practised-%s")
    context: dict[str, Any] = {"revision": found, "query": wish.query(), "practised_form": form}
    if not form.is_valid():
        return render_part(request, "drills/practised.html", "drills/_practised.html", context, status=422)
    data = form.cleaned_data
    done = practice.record(
        user=request.user, revision=found, wish=wish, tempo=data["tempo"], went=data["went"],  # type: ignore[arg-type]
        note=data["note"], token=str(data["token"]),
    )  # fmt: skip
    context |= {"done": done, "due": done.item.due}
    if request.headers.get("HX-Request"):
        return render_part(request, "drills/practised.html", "drills/_practised.html", context)
    messages.success(request, "Noted in your practice log.")
    return redirect("drills:practice")
