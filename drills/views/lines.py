"""The class's vocabulary: lines cut from its solos, one of them in twelve keys and in every place where it can stand."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from drills import kept_lines
from drills.engraving import engrave
from drills.models import KeptLine
from drills.services import lines as write
from drills.sheets import in_sound, in_words
from drills.takes.plans import NothingToRecord, line_plan
from drills.takes.record import recorder
from drills.vocabulary import Carried, NothingToCut
from studio.access import leads
from studio.instruments import Instrument, instrument_choices
from studio.web import is_part, paginate, with_microphone
from tunes import selectors as repertoire
from tunes.access import signed_in_required
from tunes.solos.access import seen_or_404
from tunes.solos.selectors import reader_of

TEMPO = 100
REFUSED = "That cannot be cut: {}."


@require_safe
@signed_in_required
def index(request: HttpRequest) -> HttpResponse:
    """Every line that a person may see, the newest first; `?q=` narrows by name, function, degree, player, tune."""
    words = " ".join(request.GET.get("q", "").split())[:80]
    rows = kept_lines.search(kept_lines.lines_seen(request.user), words)
    return render(request, "drills/lines.html", {"page": paginate(request, rows), "words": words})


@require_POST
@signed_in_required
def cut(request: HttpRequest, solo: int) -> HttpResponse:
    """Cut the notes `first` to `last` (from 0) of a solo."""
    found = seen_or_404(request.user, solo)
    if found.reading_held:  # type: ignore[attr-defined]
        raise PermissionDenied(found.reading_held)  # type: ignore[attr-defined]
    if kept_lines.still_asked(request.user).filter(solo=found).exists():
        messages.error(
            request, "Say first what you hear in the bars that are asked; then lines can be cut from this solo."
        )
        return redirect("tunes:solo", found.pk)
    try:
        first, last = (int(request.POST.get(name, "")) for name in ("first", "last"))
        row = write.keep_line(solo=found, first=first, last=last, by=request.user, name=request.POST.get("name", ""))  # type: ignore[arg-type]
    except (ValueError, NothingToCut) as problem:
        words = str(problem) if isinstance(problem, NothingToCut) else "say which note is the first and which the last"
        messages.error(request, REFUSED.format(words))
        return redirect("tunes:solo", found.pk)
    return redirect("drills:line", row.pk)


@with_microphone
@require_safe
@signed_in_required
def page(request: HttpRequest, pk: int) -> HttpResponse:
    """One line: `?key=` which of the twelve is shown, `?place=` which place of the repertoire, `?for=` the instrument."""
    agreed = repertoire.agreed_stamps()
    row, held = kept_lines.line_or_404(request.user, pk, set(agreed[1].values()))
    line = kept_lines.line_of(row)
    reader = reader_of(request.user, request.GET.get("for", ""))
    keys = kept_lines.twelve(line, reader)
    at = min(_number(request.GET.get("key")), len(keys) - 1)
    found = kept_lines.SHELF.find(line, held, agreed)
    places = paginate(request, found, per_page=kept_lines.PER_PAGE)
    context: dict[str, Any] = {
        "row": row, "line": line, "reader": reader, "instruments": instrument_choices(), "fitting": found.fitting, "page": places,
        "keys": [{"at": n, "name": key.display, "fits": one.line is not None, "current": n == at} for n, (key, one) in enumerate(keys)],
        "standing": kept_lines.described(list(places)), "may_name": _may_name(request.user, row),
        "degrees": row.degrees.split(), "record": _recorder(request.user, row, at, reader), **_shown(keys[at][1]),
    }  # fmt: skip
    return render(request, "drills/line.html", context)


def _recorder(user: Any, row: KeptLine, at: int, reader: Instrument) -> dict[str, Any] | None:
    try:
        return recorder(user, line_plan(row, at, reader))
    except NothingToRecord:
        return None


@require_safe
@signed_in_required
def place(request: HttpRequest, pk: int, revision: int, event: int) -> HttpResponse:
    """The line in one place of the repertoire, engraved; a part of the page for htmx."""
    chart = repertoire.revisions_for_study().filter(pk=revision).first()
    if chart is None:
        raise Http404("That chart is gone.")
    row, held = kept_lines.line_or_404(request.user, pk, {chart.version.tune_id})
    line = kept_lines.line_of(row)
    where = None if chart.version.tune_id in held else kept_lines.place_in(line, chart, event)
    if where is None:
        raise Http404("There is no such place any more: the chart has changed.")
    reader = reader_of(request.user, request.GET.get("for", ""))
    context = {
        "row": row, "reader": reader, "standing": kept_lines.standing(chart, where),
        **_shown(kept_lines.carried(line, chart, where, reader)),
    }  # fmt: skip
    return render(request, "drills/_line_place.html" if is_part(request) else "drills/line_place.html", context)


def _shown(found: Carried) -> dict[str, Any]:
    if found.line is None:
        return {"why_not": found.why_not}
    return {
        "engraved": engrave(found.line),
        "done": found.done,
        "sound": in_sound(found.line, TEMPO),
        "bars": in_words(found.line),
        "music_key": found.line.key.display,
    }


@require_POST
@signed_in_required
def name(request: HttpRequest, pk: int) -> HttpResponse:
    """Name it, or with `remove` throw it away: who cut it, who wrote the solo, and who leads its ensemble."""
    row, _ = kept_lines.line_or_404(request.user, pk)
    if not _may_name(request.user, row):
        raise PermissionDenied("Who cut a line, who wrote its solo and who leads the ensemble name it.")
    if request.POST.get("remove"):
        write.remove_line(row=row)
        messages.success(request, "The line is gone; the solo keeps its notes.")
        return redirect("drills:lines")
    write.name_line(row=row, name=request.POST.get("name", ""))
    messages.success(request, "Named." if request.POST.get("name", "").strip() else "It has no name now.")
    return redirect("drills:line", pk)


def _may_name(user: Any, row: KeptLine) -> bool:
    solo = row.solo
    return user.pk in (row.by_id, solo.written_by_id) or bool(solo.shared_with_id and leads(user, solo.shared_with_id))


def _number(text: str | None) -> int:
    return int(text) if text and text.isdigit() and len(text) < 4 else 0
