"""A player's own words: the meaning of the song line by line, and notes at any bar. Theirs alone."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from studio.requests import MemberRequest
from tunes.models import OwnNote, Tune

from ..services.own_words import LONGEST, TooMany, keep
from .query import number_of

BLANK_LINES = 4  # further lines that stand ready
MOST_LINES = 80


class BarNoteForm(forms.Form):
    """A note at one bar."""

    bar = forms.IntegerField(min_value=0, max_value=9999, label="Bar, as played")
    note = forms.CharField(
        max_length=LONGEST,
        label="Your note",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Write something first."},
    )


@login_required
@require_http_methods(["GET", "POST"])
def own_words(request: MemberRequest, tune: int) -> HttpResponse:
    """One form for the lines, one for a note at a bar; an emptied field takes its note away."""
    found = get_object_or_404(Tune, pk=tune)
    form = BarNoteForm(request.POST if request.POST.get("act") == "bar" else None, initial={"bar": _bar(request)})
    if request.method == "POST" and (request.POST.get("act") == "lines" or form.is_valid()):
        try:
            _keep(request, found, form)
        except TooMany as problem:
            messages.error(request, str(problem))
        else:
            messages.success(request, "Kept, for you alone.")
        return redirect("work:own-words", tune)
    notes = list(OwnNote.objects.filter(user=request.user, tune=found))
    lines = {note.line: note.text for note in notes if note.line is not None}
    count = min(MOST_LINES, max(lines, default=0) + BLANK_LINES)
    context = {
        "tune": found, "form": form, "notes": [note for note in notes if note.bar is not None],
        "lines": [(number, lines.get(number, "")) for number in range(1, count + 1)],
    }  # fmt: skip
    return render(request, "assessments/own_words.html", context, status=422 if form.errors else 200)


def _bar(request: HttpRequest) -> int | None:
    return number_of(request.GET.get("bar"))


def _keep(request: HttpRequest, tune: Tune, form: BarNoteForm) -> None:
    at_bars: dict[int, str] = {}
    at_lines: dict[int, str] = {}
    if request.POST.get("act") == "lines":
        at_lines = _numbered(request.POST, "line-")
        at_bars = _numbered(request.POST, "bar-")
    else:
        at_bars = {form.cleaned_data["bar"]: form.cleaned_data["note"]}
    keep(user=request.user, tune=tune, at_bars=at_bars, at_lines=at_lines)  # type: ignore[arg-type]


def _numbered(post: Any, prefix: str) -> dict[int, str]:
    found = {}
    for name, text in post.items():
        number = number_of(name[len(prefix) :]) if name.startswith(prefix) else None
        if number is not None and 0 <= number <= 9999:
            found[number] = text
    return found
