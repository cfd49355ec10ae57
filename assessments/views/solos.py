"""A solo that was handed in: engraved as its player reads it, for who may see the hand-in, beside the key where there is one."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from drills.engraving import engrave
from drills.solos.score import solo_line, written
from tunes.access import refuse_held_chords
from tunes.solos import selectors

from ..access import submission_for
from ..models import Attempt
from ..selectors.solos import handed_solo


@require_safe
@login_required
def handed(request: HttpRequest, pk: int) -> HttpResponse:
    """The staff as it was handed in. How it agrees with the key is for who reviews it, and for its player once reviewed."""
    sent = submission_for(request.user, pk)
    attempt = sent.attempt
    step = attempt.step
    refuse_held_chords(request.user, step.assignment.tune_id)
    found = handed_solo(sent, step)
    if found is None:
        raise Http404
    own = attempt.player_id == request.user.pk
    bars = selectors.read_stored(found.kept.notes, len(found.form.bars))
    line = solo_line(found.form, bars, title=f"{found.kept.solo.player} on {step.assignment.tune}")
    return render(
        request,
        "assessments/handed_solo.html",
        {
            "sent": sent,
            "attempt": attempt,
            "step": step,
            "found": found,
            "own": own,
            "told": found.agreement if not own or attempt.status == Attempt.Status.REVIEWED else None,
            "engraved": engrave(line, written=written(line, found.form, bars)),
        },
    )
