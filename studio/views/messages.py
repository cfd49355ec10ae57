"""Messages to an ensemble or to some of its players, and where they are kept."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.contrib import messages as said
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from studio import selectors
from studio.access import instructor_required, leads, led_or_404, messages_seen
from studio.form_fields import ManyChoiceField
from studio.requests import MemberRequest
from studio.services.messages import NobodyToTell, send_message
from studio.web import paginate


class MessageForm(forms.Form):
    """What is said, and to whom; everybody is ticked until somebody is taken out."""

    text = forms.CharField(
        max_length=2000,
        label="Message",
        widget=forms.Textarea(attrs={"rows": 5}),
        error_messages={"required": "Write something first."},
    )
    players = ManyChoiceField(None, error_messages={"required": "Tick at least one player."})
    token = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, players: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["players"].queryset = players  # type: ignore[attr-defined]
        self.fields["token"].initial = uuid.uuid4


@require_safe
@login_required
def messages(request: HttpRequest) -> HttpResponse:
    """Messages that one got, wrote, or that went to an ensemble one leads; of one ensemble if the address names it."""
    rows = messages_seen(request.user).prefetch_related("to")
    chosen = request.GET.get("ensemble", "")
    if chosen.isascii() and chosen.isdigit() and len(chosen) < 12:
        rows = rows.filter(ensemble=int(chosen))
    return render(request, "studio/messages.html", {"page": paginate(request, rows, per_page=20)})


@require_safe
@login_required
def message(request: MemberRequest, pk: int) -> HttpResponse:
    """One message."""
    found = get_object_or_404(messages_seen(request.user).prefetch_related("to"), pk=pk)
    request.user.notices.filter(message=found, seen=None).update(seen=timezone.now())
    return render(request, "studio/message.html", {"message": found, "may_answer": leads(request.user, found.ensemble)})


@require_http_methods(["GET", "HEAD", "POST"])
@instructor_required
def new(request: HttpRequest, pk: int) -> HttpResponse:
    """Write to an ensemble, or to those of it who are ticked (`?to=` in the address ticks some)."""
    ensemble = led_or_404(request.user, pk)
    players = selectors.players_of(ensemble)
    form = MessageForm(request.POST or None, players=players)
    asked = set(request.GET.getlist("to"))
    ticked = set(request.POST.getlist("players")) if form.is_bound else asked or {str(p.pk) for p in players}
    if form.is_valid():
        chosen = list(form.cleaned_data["players"])
        try:
            sent = send_message(
                ensemble=ensemble,
                by=request.user,  # type: ignore[arg-type]
                text=form.cleaned_data["text"],
                players=chosen,
                everyone=len(chosen) == len(players),
                token=form.cleaned_data["token"],
            )
        except NobodyToTell:
            form.add_error("players", "You are the only one ticked: tick somebody else.")
        else:
            said.success(request, f"Sent to {'all of ' + ensemble.name if sent.to_all else _count(len(chosen))}.")
            return redirect("studio:message", sent.pk)
    return render(
        request,
        "studio/message_new.html",
        {"ensemble": ensemble, "form": form, "players": players, "ticked": ticked},
        status=422 if form.errors else 200,
    )


def _count(players: int) -> str:
    return f"{players} player{'' if players == 1 else 's'}"
