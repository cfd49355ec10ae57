"""Pages of lead sheets: import with preview, export, the melody of a version."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import content_disposition_header
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.access import can_edit_repertoire
from tunes.access import editor_required, refuse_held_chords
from tunes.drawing import draw_chart
from tunes.interchange import Extras, ImportReading, write_musicxml, write_plain
from tunes.lead_sheets import selectors, services
from tunes.lead_sheets.forms import LeadSheetForm, MelodyForm, PreviewForm
from tunes.models import ChartRevision, Melody, Tune
from tunes.selectors import revisions_for_study
from tunes.study import StudyChart, study_chart


@require_http_methods(["GET", "HEAD", "POST"])
@editor_required
def import_page(request: HttpRequest) -> HttpResponse:
    """Choose a file; then see what came out of it, every loss named, before anything is kept."""
    form = LeadSheetForm(request.POST or None, request.FILES or None)
    chosen = Tune.objects.filter(pk=_number(request.GET.get("tune"))).first()
    if request.method == "POST" and form.is_valid():
        reading = form.reading
        preview = PreviewForm(initial={
            "text": reading.text, "title": reading.title or "Untitled", "composer": reading.composer, "tune": chosen,
        })  # fmt: skip
        return render(request, "tunes/versions/import_preview.html", _preview(reading, preview))
    context = {"form": form, "chosen": chosen}
    status = 422 if request.method == "POST" else 200
    return render(request, "tunes/versions/import.html", context, status=status)


def _number(text: str | None) -> int:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 10 else 0


def _preview(reading: ImportReading, form: PreviewForm) -> dict[str, Any]:
    return {
        "reading": reading, "form": form, "chart": draw_chart(reading.chart), "written": len(reading.chart.bars),
        "notes": len(reading.melody.notes),
    }  # fmt: skip


@require_POST
@editor_required
def keep(request: HttpRequest) -> HttpResponse:
    """What was previewed becomes a draft in the chart editor."""
    form = PreviewForm(request.POST)
    if not form.is_valid():
        context = {"form": form, "text": request.POST.get("text", "")}
        return render(request, "tunes/versions/import_preview.html", context, status=422)
    tune = services.keep_as_draft(by=request.user, **form.cleaned_data)  # type: ignore[arg-type]
    messages.success(
        request, "The lead sheet is a draft now. Hear it against the recording, then save it as a version."
    )
    return redirect("tunes:chart_new", tune.pk)


def _exported(request: HttpRequest, pk: int) -> tuple[ChartRevision, StudyChart, bool]:
    """The revision, its study, and whether the analysis may go out with it."""
    revision = get_object_or_404(revisions_for_study(), pk=pk)
    tune = revision.version.tune
    held = refuse_held_chords(request.user, tune)
    wanted = request.GET.get("analysis") == "yes"
    if wanted and held:
        raise PermissionDenied("The functions of this tune are held back until your quiz on it is handed in.")
    return revision, study_chart(revision), wanted


def _file(content: bytes, content_type: str, revision: ChartRevision, suffix: str) -> HttpResponse:
    response = HttpResponse(content, content_type=content_type)
    name = (
        f"{slugify(revision.version.tune.title) or 'chart'}-{slugify(revision.version.name)}-{revision.number}.{suffix}"
    )
    response.headers["Content-Disposition"] = content_disposition_header(True, name) or "attachment"
    return response


@require_safe
@login_required
def export_musicxml(request: HttpRequest, revision: int) -> HttpResponse:
    """The chart in concert pitch as MusicXML 4.0; with `?analysis=yes` its functions as numerals."""
    return musicxml_response(request, revision)


def musicxml_response(request: HttpRequest, revision: int) -> HttpResponse:
    """The file, for a page or a call. Raises PermissionDenied while it is held back."""
    row, study, wanted = _exported(request, revision)
    tune = row.version.tune
    extras = Extras(tune.title, tune.composer, selectors.melody_of(row), study.analysis if wanted else None)
    content = write_musicxml(study.chart, extras)
    return _file(content, "application/vnd.recordare.musicxml+xml", row, "musicxml")


@require_safe
@login_required
def export_text(request: HttpRequest, revision: int) -> HttpResponse:
    """The chart as plain text; with `?analysis=yes` every function bar by bar."""
    return text_response(request, revision)


def text_response(request: HttpRequest, revision: int) -> HttpResponse:
    """The file, for a page or a call. Raises PermissionDenied while it is held back."""
    row, study, wanted = _exported(request, revision)
    tune = row.version.tune
    text = write_plain(study.chart, study.analysis if wanted else None, title=tune.title, composer=tune.composer)
    return _file(text.encode(), "text/plain; charset=utf-8", row, "txt")


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def melody(request: HttpRequest, tune: int) -> HttpResponse:
    """Which melodies are kept, by what right; instructors may enter one."""
    found = get_object_or_404(Tune, pk=tune)
    may_edit = can_edit_repertoire(request.user)
    form = None
    if may_edit:
        form = MelodyForm(request.POST or None, request.FILES or None, tune=found, by=request.user)
    elif request.method == "POST":
        raise PermissionDenied
    if form is not None and request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        services.keep_melody(
            version=data["version"], melody=form.melody, rights=data["rights"],
            source_name=data["file"].name or "", by=request.user,  # type: ignore[arg-type]
        )  # fmt: skip
        form.forget()
        messages.success(request, "The melody is kept. Scales follow it where it disagrees with the chord.")
        return redirect("tunes:melody-import", tune)
    if form is not None and request.method == "POST":
        form.keep_file()
    rows = list(Melody.objects.filter(version__tune=found).select_related("version", "by"))
    context = {"tune": found, "form": form, "rows": rows, "may_edit": may_edit}
    return render(request, "tunes/versions/melody.html", context, status=422 if request.method == "POST" else 200)


@require_POST
@editor_required
def remove_melody(request: HttpRequest, tune: int, pk: int) -> HttpResponse:
    get_object_or_404(Melody, pk=pk, version__tune=tune).delete()
    messages.success(request, "The notation is deleted.")
    return redirect("tunes:melody-import", tune)
