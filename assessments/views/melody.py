"""The melody by ear as work: phrases loop, what is taken down is checked without being shown, and comes back."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from drills.comparers.note_names import read_notes
from studio.access import instrument_of
from studio.instruments import INSTRUMENTS
from studio.requests import MemberRequest
from tunes.harmony.pitch.spelling import UNISON
from tunes.models import Tune
from tunes.recordings.selectors import caution_due

from ..selectors.melody import MelodyPage, melody_page
from ..services.melody import keep_and_check


@login_required
@require_http_methods(["GET", "POST"])
def melody(request: MemberRequest, tune: int) -> HttpResponse:
    """The phrases of a tune, each with its loop and a field for its notes; POST keeps all and checks what is asked."""
    found = get_object_or_404(Tune, pk=tune)
    now = timezone.now()
    page = melody_page(request.user, found, now)
    row = INSTRUMENTS.get(instrument_of(request.user, ""))
    checks: dict[str, Any] = {}
    texts: dict[str, str] = {}
    if request.method == "POST":
        texts = {line.name: request.POST.get(f"notes-{line.name}", "") for line in page.lines}
        checks = keep_and_check(
            player=request.user, tune=found, page=page, texts=texts, asked=request.POST.get("check", ""),
            written=row.interval.simple if row else UNISON, now=now,
        )  # fmt: skip
        page = melody_page(request.user, found, now)
    return render(
        request,
        "assessments/melody.html",
        {
            "tune": found,
            "page": page,
            "lines": _lines(page, checks, texts),
            "pitch": f"written for {row.name[0].lower()}{row.name[1:]}"
            if row and not row.is_concert
            else "concert pitch",
            "clef": row.clef if row else "treble",
            "caution": page.sound is not None and caution_due(request.user, "hearing"),
            "kept": request.method == "POST",
        },
    )


def _lines(page: MelodyPage, checks: dict[str, Any], texts: dict[str, str]) -> list[dict[str, Any]]:
    """Each phrase with what stands in its field and what came of it."""
    rows = []
    for line in page.lines:
        typed = texts.get(line.name, "")
        text = typed if line.hidden or not line.row else line.row.text
        problem = read_notes(text).problem if text.strip() else None
        rows.append({"line": line, "text": text, "check": checks.get(line.name), "problem": problem})
    return rows
