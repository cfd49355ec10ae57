"""A solo that was handed in: engraved as its player reads it, for who may see the hand-in, beside the key where there is one."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from drills.engraving import engrave
from drills.solos.beside import NotBeside, beside
from drills.solos.score import solo_line, written
from drills.solos.views import beside_context, settle
from studio.access import leads
from tunes.access import refuse_held_chords
from tunes.solos import selectors

from ..access import submission_for
from ..models import Attempt
from ..selectors.solos import handed_solo, notes_named, others_of
from ..services.solo_steps import take_key


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
    standing = written(line, found.form, bars)
    return render(
        request,
        "assessments/handed_solo.html",
        {
            "sent": sent,
            "attempt": attempt,
            "step": step,
            "found": found,
            "own": own,
            "others": others_of(sent) if not own and found.agreement is None else (),
            "told": found.agreement if not own or attempt.status == Attempt.Status.REVIEWED else None,
            "notes": () if own else notes_named(found),
            "comments": attempt.comments.select_related("by"),
            "token": uuid.uuid4(),
            "engraved": engrave(line, written=standing),
            "narrow": engrave(line, written=standing, per_system=2),
        },
    )


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def two_handed(request: HttpRequest, pk: int, other: int) -> HttpResponse:
    """Two players' versions of one step side by side, where it has no key; settled, the step may take the agreed one as its key."""
    one, two = submission_for(request.user, pk), submission_for(request.user, other)
    step = one.attempt.step
    if not leads(request.user, step.assignment.ensemble_id):
        raise PermissionDenied("Who leads the ensemble lays two versions side by side.")
    refuse_held_chords(request.user, step.assignment.tune_id)
    if one.solo is None or two.solo is None or two.attempt.step_id != step.pk:
        raise Http404
    try:
        found = beside(one.solo, two.solo, selectors.reader_of(request.user, request.GET.get("for", "")))
    except NotBeside as refused:
        messages.error(request, f"{refused}.")
        return redirect("work:handed-solo", pk)
    problem = ""
    if request.method == "POST":
        try:
            take_key(step=step, kept=settle(found, request.POST, by=request.user))
            messages.success(
                request, "Settled. The step takes the agreed version as its key; every hand-in is laid beside it."
            )
            return redirect("work:handed-solo", pk)
        except NotBeside as error:
            problem = str(error)
    return render(request, "drills/solos_beside.html", beside_context(found, request.POST) | {
        "may_settle": True, "takes_key": not step.options.get("kept"), "problem": problem,
        "back": reverse("work:handed-solo", args=[pk]), "back_words": f"{one.attempt.player.name}, {step.name}",
    }, status=422 if problem else 200)  # fmt: skip
