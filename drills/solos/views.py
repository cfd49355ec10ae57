"""Solos to take away, and two versions side by side: for the people who may see them, and for nobody else."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_safe

from drills.solos.beside import Beside, NotBeside, beside, choices_of, drawn, pair_of
from drills.solos.score import solo_line, written
from studio.access import is_instructor
from studio.instruments import CONCERT
from tunes.models import Solo, SoloRevision
from tunes.solos import selectors, services
from tunes.solos.access import seen_or_404, teaches
from tunes.solos.asking import hidden_bars
from tunes.solos.bars import SoloForm, solo_form
from tunes.solos.frame import frame
from tunes.solos.notes import Bars
from tunes.solos.reading import read_solo, without

TYPES = {"pdf": "application/pdf", "musicxml": "application/vnd.recordare.musicxml+xml", "midi": "audio/midi"}
ENDINGS = {"pdf": "pdf", "musicxml": "musicxml", "midi": "mid"}
STAYS = "Written out for study; it stays with the people who may see the tune."


@require_safe
@login_required
def download(request: HttpRequest, pk: int, form: str) -> HttpResponse:
    """The newest kept notes as PDF, MusicXML or MIDI; `?under=degrees` or `functions` sets those below the staff."""
    if form not in TYPES:
        raise Http404
    solo = seen_or_404(request.user, pk)
    kept = selectors.newest(solo)
    study, covers = selectors.study_of(solo), selectors.covers(solo)
    reader = selectors.reader_of(request.user, request.GET.get("for", ""))
    printed = solo_form(study, covers, reader)
    bars = selectors.read_stored(kept.notes if kept else {}, len(printed.bars))
    under = request.GET.get("under", "") if not solo.reading_held else ""  # type: ignore[attr-defined]
    degrees = _degrees(request, solo, bars, solo_form(study, covers, CONCERT)) if under == "degrees" else {}
    content = _content(
        form, solo, printed, bars, degrees, functions=under == "functions", about=frame(solo, study, printed)
    )
    response = HttpResponse(content, content_type=TYPES[form])
    name = slugify(f"{solo.revision.version.tune.title} {solo.player} {reader.key}") or "solo"
    response.headers["Content-Disposition"] = (
        content_disposition_header(True, f"{name}.{ENDINGS[form]}") or "attachment"
    )
    return response


def _degrees(request: HttpRequest, solo: Solo, bars: Bars, concert: SoloForm) -> dict[tuple[int, int], str]:
    """The degree of every note that this person may be told, by bar and place."""
    sees_all = teaches(request.user, solo) and solo.written_by_id != request.user.pk
    hidden = hidden_bars(selectors.asks_of(solo, request.user), sees_all=sees_all)
    reading = without(read_solo(bars, concert, selectors.covers(solo), concert.shift), hidden)
    return {(one.note.bar, one.note.place): one.shown for one in reading.notes if one.note.bar not in hidden}


def _content(
    form: str,
    solo: Solo,
    printed: SoloForm,
    bars: Bars,
    degrees: dict[tuple[int, int], str],
    *,
    functions: bool,
    about: dict[str, Any],
) -> bytes:
    tune = solo.revision.version.tune.title
    line = solo_line(printed, bars, title=f"{solo.player} on {tune}", functions=functions)
    tempo = (solo.recording.tempo if solo.recording else None) or 120
    if form == "midi":
        from drills.midi import to_midi

        return to_midi(line, tempo=tempo, title=line.title)
    stands = written(line, printed, bars, degrees)
    if form == "musicxml":
        from drills.musicxml import to_musicxml

        return to_musicxml(line, title=line.title, part_name=solo.player, written=stands, rights=STAYS).encode()
    from drills.printing import Booklet, PrintedSheet, to_pdf

    subtitle = f"{about['covers']} · {about['pitch']} · written down by {solo.written_by.name}"
    sheet = PrintedSheet(title=line.title, subtitle=subtitle, line=line, written=stands, functions=functions)
    return to_pdf(Booklet(title=line.title, sheets=(sheet,), author=solo.written_by.name, footer=STAYS))


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def two_versions(request: HttpRequest, pk: int, other: int) -> HttpResponse:
    """Two solos of the same bars that a person may see, side by side; who leads settles the bars in which they part."""
    one, two = seen_or_404(request.user, pk), seen_or_404(request.user, other)
    try:
        found = beside(*pair_of(one, two), selectors.reader_of(request.user, request.GET.get("for", "")))
    except NotBeside as refused:
        messages.error(request, f"{refused}.")
        return redirect("tunes:solo", pk)
    may_settle = is_instructor(request.user)
    problem = ""
    if request.method == "POST":
        if not may_settle:
            raise PermissionDenied("Instructors settle the bars in which two versions part.")
        try:
            kept = settle(found, request.POST, by=request.user)
            messages.success(request, "Settled: the agreed version is a solo of yours now.")
            return redirect("tunes:solo", kept.solo_id)
        except NotBeside as error:
            problem = str(error)
    return render(request, "drills/solos_beside.html", beside_context(found, request.POST) | {
        "may_settle": may_settle, "problem": problem, "back": reverse("tunes:solo", args=[pk]), "back_words": one.player,
    }, status=422 if problem else 200)  # fmt: skip


def settle(found: Beside, posted: Mapping[str, str], *, by: Any) -> SoloRevision:
    """Keep the settled version. Raises `NotBeside`."""
    bars = found.merged(choices_of(posted, found.disputed))
    writers = f"{found.one.solo.written_by.name} and {found.other.solo.written_by.name}"
    return services.agree(by=by, one=found.one.solo, bars=bars, writers=writers)


def beside_context(found: Beside, posted: Mapping[str, str]) -> dict[str, Any]:
    for bar, chosen in choices_of(posted, found.disputed).items():
        next(one for one in found.disputed if one.bar == bar).chosen = chosen
    return {
        "found": found,
        "sides": drawn(found),
        "tune": found.one.solo.revision.version.tune,
        "reader": found.form.instrument,
    }
