"""Solos to take away: for the people who may see them, and for nobody else."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.http import content_disposition_header
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from drills.solos.score import solo_line, written
from studio.instruments import CONCERT
from tunes.models import Solo
from tunes.solos import selectors
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
