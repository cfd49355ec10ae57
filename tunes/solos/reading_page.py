"""The page on which a solo is read."""
from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from studio.instruments import CONCERT
from tunes.models import Solo
from tunes.solos import selectors
from tunes.solos.bars import solo_form
from tunes.solos.forms import ShareForm
from tunes.solos.notes import write_notes
from tunes.solos.page import chorus_words, form_data


def reading_context(request: HttpRequest, solo: Solo) -> dict[str, Any]:
    """Everything the page shows."""
    from tunes.solos.views import frame

    study = selectors.study_of(solo)
    covers = selectors.covers(solo)
    form = solo_form(study, covers, selectors.reader_of(request.user, request.GET.get("for", "")))
    concert = solo_form(study, covers, CONCERT)
    kept = selectors.newest(solo)
    stored = kept.notes if kept else write_notes(((),) * len(form.bars))
    hearing = selectors.hearing(solo, study)
    data = form_data(form, concert) | {
        "solo": solo.pk, "notes": stored, "times": hearing.times,
        "tempo": (solo.recording.tempo if solo.recording else None) or 120,
    }  # fmt: skip
    own = solo.written_by_id == request.user.pk
    return frame(solo, study, form) | {
        "data": data, "kept": kept, "own": own, "words": chorus_words(form.bars), "heard": hearing.known,
        "share": ShareForm(user=request.user, solo=solo) if own else None,
    }  # fmt: skip
