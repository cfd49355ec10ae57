"""Pages of solos: those of a tune, beginning one, writing it down, sharing it."""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.instruments import CONCERT
from studio.web import paginate
from tunes.access import refuse_held_chords
from tunes.models import Solo, SoloAsk, SoloDraft, Tune
from tunes.solos import jobs, selectors, services, taken, tapped
from tunes.solos.access import may_ask, may_say, seen_or_404, written_or_404
from tunes.solos.asking import answer_of
from tunes.solos.bars import SoloForm, form_length, solo_form
from tunes.solos.forms import MOST_SENT, BeginForm, FileForm, HeadForm, NotesForm, ShareForm, WordForm, bars_asked
from tunes.solos.frame import frame
from tunes.solos.notes import write_notes
from tunes.solos.page import form_data
from tunes.solos.reading_page import reading_context, take_read
from tunes.study import StudyChart, chart_of

BEGUN_WITH = ("revision", "player", "instrument", "first_chorus", "first_bar", "last_chorus", "last_bar")


@require_safe
@login_required
def solos(request: HttpRequest, tune: int) -> HttpResponse:
    """The solos on a tune that a person may see."""
    found = get_object_or_404(Tune, pk=tune)
    held = refuse_held_chords(request.user, found)
    page = paginate(request, selectors.solos(request.user, found))
    return render(request, "tunes/solos/list.html", {"tune": found, "page": page, "held": held})


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def begin(request: HttpRequest, tune: int) -> HttpResponse:
    """Say what is to be written down; then the empty staves."""
    found = get_object_or_404(Tune.objects.prefetch_related("recordings"), pk=tune)
    refuse_held_chords(request.user, found)
    revisions = selectors.charts_to_write_over(found)
    form = BeginForm(request.POST or None, tune=found, revisions=revisions, initial=_first_guess(request, found))
    if request.method == "POST" and revisions and form.is_valid():
        data = form.cleaned_data
        chart = chart_of(data["revision"].text)
        solo = services.begin(
            by=request.user, revision=data["revision"], recording=data["recording"], player=data["player"],  # type: ignore[arg-type]
            instrument=data["instrument"], covers=data["covers"], rights=data["rights"],
            bars=len(data["covers"].places(form_length(chart))),
        )  # fmt: skip
        address = reverse("tunes:solo-write", args=[solo.pk])
        return redirect(f"{address}?{urlencode({'bars': request.GET['bars']})}" if "bars" in request.GET else address)
    context = {
        "tune": found,
        "form": form,
        "revisions": revisions,
        "players": selectors.heard_players(request.user, found),
    }
    return render(request, "tunes/solos/begin.html", context, status=422 if request.method == "POST" else 200)


def _first_guess(request: HttpRequest, tune: Tune) -> dict[str, Any]:
    """The recording asked for, else the reference; the chorus after the head, where its form map has more than one. Who plays is not
    guessed: a leader's name is often the band's. What an address says (`player`, `instrument`, `revision`, `first_chorus` …)
    stands before that."""
    rows = list(tune.recordings.all())
    asked = next((row for row in rows if str(row.pk) == request.GET.get("recording")), None)
    recording = asked or next((row for row in rows if row.is_reference), None)
    guess: dict[str, Any] = {}
    if recording:
        chorus = 2 if recording.marks.filter(chorus__gt=1).exists() else 1
        guess = {"recording": recording.pk, "first_chorus": chorus, "last_chorus": chorus}
    return guess | {name: request.GET[name][:120] for name in BEGUN_WITH if request.GET.get(name)}


def pages_form(request: HttpRequest, solo: Solo) -> tuple[StudyChart, SoloForm, SoloForm]:
    """The concert study of a solo, its bars as the person asking reads them, and in concert pitch."""
    study = selectors.study_of(solo)
    reader = selectors.reader_of(request.user, request.GET.get("for", ""))
    covers = selectors.covers(solo)
    return study, solo_form(study, covers, reader), solo_form(study, covers, CONCERT)


def only_bars(asked: str, count: int) -> list[int] | None:
    """Which bars stand open, the others folded: "1-4", counted from 1, as [0, 3]; None for all of them.

    >>> only_bars("1-4", 12), only_bars("1-12", 12), only_bars("9-40", 12), only_bars("x", 12)
    ([0, 3], None, [8, 11], None)
    """
    first, _, last = asked.partition("-")
    if not (first.isdecimal() and last.isdecimal() and len(first) < 5 and len(last) < 5):
        return None
    low, high = int(first) - 1, min(int(last), count) - 1
    return [low, high] if 0 <= low <= high and (low, high) != (0, count - 1) else None


@require_safe
@login_required
def write(request: HttpRequest, pk: int) -> HttpResponse:
    """The staves to write on, with the recording to hear."""
    solo = written_or_404(request.user, pk)
    study, form, concert = pages_form(request, solo)
    draft, _made = SoloDraft.objects.get_or_create(solo=solo, defaults={"notes": write_notes(((),) * len(form.bars))})
    hearing = selectors.hearing(solo, study)
    data = form_data(form, concert) | {
        "solo": solo.pk, "user": solo.written_by_id, "notes": draft.notes, "serial": draft.serial, "client": draft.client,
        "only": only_bars(request.GET.get("bars", ""), len(form.bars)), "times": hearing.times, "tempo": (solo.recording.tempo if solo.recording else None) or 120,
    }  # fmt: skip
    context = frame(solo, study, form) | {
        "data": data, "heard": hearing.known, "kept": solo.revisions.first(), "saved": draft.changed if draft.serial else None,
        "remarks": selectors.remarks_of(request.user, request.GET.get("read", "")),
    }  # fmt: skip
    return render(request, "tunes/solos/write.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def from_file(request: HttpRequest, pk: int) -> HttpResponse:
    """Notes from a file: read in the background, then on the staves to go on with."""
    solo = written_or_404(request.user, pk)
    form = FileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        job = jobs.start(solo=solo, data=form.content, by=request.user)  # type: ignore[arg-type]
        return redirect("studio:job", job.pk)
    context = {"solo": solo, "tune": solo.revision.version.tune, "form": form}
    return render(request, "tunes/solos/file.html", context, status=422 if request.method == "POST" else 200)


def _notes_form(request: HttpRequest, solo: Solo) -> NotesForm:
    covers = selectors.covers(solo)
    return NotesForm(request.POST, count=len(covers.places(form_length(chart_of(solo.revision.text)))))


@require_POST
@login_required
def draft(request: HttpRequest, pk: int) -> JsonResponse:
    """Save what is being written. 409 with what another window wrote; nothing is overwritten without being asked."""
    solo = written_or_404(request.user, pk)
    form = _notes_form(request, solo)
    if not form.is_valid():
        return JsonResponse({"problem": _said(form)}, status=422)
    data = form.cleaned_data
    saved = services.save_draft(
        solo=solo, bars=form.bars, serial=data["serial"] or 0, client=data["client"], over=data["over"]
    )
    at = timezone.localtime(saved.draft.changed).strftime("%H:%M")
    if not saved.written:
        return JsonResponse(
            {"serial": saved.draft.serial, "at": at, "notes": saved.draft.notes, "client": saved.draft.client},
            status=409,
        )
    return JsonResponse({"serial": saved.draft.serial, "at": at})


def _said(form: Any) -> str:
    return " ".join(error for errors in form.errors.values() for error in errors)


@require_POST
@login_required
def placed(request: HttpRequest, pk: int) -> JsonResponse:
    """Onsets in the seconds of the recording (`onsets`, JSON; see `tunes.solos.tapped`) laid on the bars, as a suggestion. Writes nothing."""
    solo = written_or_404(request.user, pk)
    try:
        sent = request.POST.get("onsets", "")
        if len(sent) > MOST_SENT:
            raise tapped.NoPlaces("That is too much at once: tap fewer bars.")
        onsets = tapped.read_onsets(json.loads(sent))
        found = selectors.suggested(solo, onsets, swing=request.POST.get("swing", "on") == "on")
    except (json.JSONDecodeError, RecursionError):
        return JsonResponse({"problem": "The taps could not be read: tap again."}, status=422)
    except tapped.NoPlaces as problem:
        return JsonResponse({"problem": str(problem)}, status=422)
    return JsonResponse({"notes": write_notes(found.bars), "filled": found.filled, "remarks": found.remarks})


@require_POST
@login_required
def keep(request: HttpRequest, pk: int) -> JsonResponse:
    """Keep the notes as they are now as a revision that is never rewritten; answers where to read them."""
    solo = written_or_404(request.user, pk)
    form = _notes_form(request, solo)
    if not form.is_valid():
        return JsonResponse({"problem": _said(form)}, status=422)
    why = "of another window" if form.cleaned_data["over"] else ""
    kept = services.keep(solo=solo, bars=form.bars, by=request.user, why=why)  # type: ignore[arg-type]
    return JsonResponse({"number": kept.number, "url": reverse("tunes:solo", args=[solo.pk])})


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def head(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what a solo says of itself: player, instrument, recording, bars."""
    solo = written_or_404(request.user, pk)
    form = HeadForm(request.POST or None, solo=solo)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            services.edit_head(
                solo=solo, recording=data["recording"], player=data["player"], instrument=data["instrument"],
                rights=data["rights"], covers=data["covers"], before=selectors.covers(solo), form=form.form_bars,
            )  # fmt: skip
            messages.success(request, "Changed.")
            return redirect("tunes:solo-write", pk)
        except services.WouldLose as problem:
            form.add_error("last_bar", f"{problem}.")
    context = {"solo": solo, "tune": solo.revision.version.tune, "form": form}
    return render(request, "tunes/solos/head.html", context, status=422 if request.method == "POST" else 200)


@require_POST
@login_required
def share(request: HttpRequest, pk: int) -> HttpResponse:
    """Open the solo to an ensemble, or to nobody."""
    solo = written_or_404(request.user, pk)
    form = ShareForm(request.POST, user=request.user, solo=solo)
    if not form.is_valid():
        messages.error(request, "Choose one of your own ensembles.")
        return redirect("tunes:solo", pk)
    ensemble = form.cleaned_data["ensemble"]
    services.share(solo=solo, ensemble=ensemble, url=reverse("tunes:solo", args=[solo.pk]))
    messages.success(request, f"{ensemble.name} can read it now." if ensemble else "Only you can read it now.")
    return redirect("tunes:solo", pk)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Throw a solo away, after one question: what is shared may be in others' hands."""
    solo = written_or_404(request.user, pk)
    tune = solo.revision.version.tune
    if request.method == "POST":
        services.remove(solo=solo)
        messages.success(request, "The solo is thrown away.")
        return redirect("tunes:solos", tune.pk)
    return render(request, "tunes/solos/remove.html", {"solo": solo, "tune": tune})


@require_safe
@login_required
def solo(request: HttpRequest, pk: int) -> HttpResponse:
    """One solo to read."""
    found = seen_or_404(request.user, pk)
    return render(request, "tunes/solos/solo.html", reading_context(request, found))


@require_POST
@login_required
def say(request: HttpRequest, pk: int) -> HttpResponse:
    """A person's word on a note, or a name for a passage; beside what was read, never instead of it."""
    found = seen_or_404(request.user, pk)
    if not may_say(request.user, found):
        raise PermissionDenied
    form = WordForm(request.POST)
    if form.is_valid():
        services.say(solo=found, by=request.user, **form.cleaned_data)  # type: ignore[arg-type]
    else:
        messages.error(request, "That could not be kept: choose a note and say what it is.")
    return redirect("tunes:solo", pk)


@require_POST
@login_required
def take(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a habit (`what`) or the notes `first` to `last` into practice, or with `back` take it back."""
    found = seen_or_404(request.user, pk)
    if found.reading_held:  # type: ignore[attr-defined]
        raise PermissionDenied(found.reading_held)  # type: ignore[attr-defined]
    back = request.POST.get("back", "")
    if back:
        row = get_object_or_404(
            found.taken, user=request.user, pk=int(back) if back.isdecimal() and len(back) < 10 else 0
        )
        taken.take_back(row=row)
        messages.success(request, "Taken back: drills of this tune play as before.")
        return redirect(f"{reverse('tunes:solo', args=[pk])}#habits")
    try:
        what = request.POST.get("what", "")
        first, last = (0, 0) if what else (int(request.POST.get(name, "")[:6]) for name in ("first", "last"))
        row = take_read(request.user, found, what=what, first=first, last=last)
        messages.success(request, f"In practice now: {row.words}. Scales and arpeggios of this tune carry it.")
    except (taken.NothingToTake, ValueError) as problem:
        said = (
            str(problem)
            if isinstance(problem, taken.NothingToTake)
            else "Say which note is the first and which the last"
        )
        messages.error(request, f"{said}.")
    return redirect(f"{reverse('tunes:solo', args=[pk])}#habits")


@require_POST
@login_required
def ask(request: HttpRequest, pk: int) -> HttpResponse:
    """Which bars are asked before they are told."""
    found = seen_or_404(request.user, pk)
    if not may_ask(request.user, found):
        raise PermissionDenied
    count = len(selectors.covers(found).places(form_length(chart_of(found.revision.text))))
    bars = bars_asked(request.POST.get("bars", ""), count)
    if bars is None:
        messages.error(request, f"Write bars of the solo from 1 to {count}, with commas between: 3, 10.")
    else:
        services.ask(solo=found, bars=bars, by=request.user)  # type: ignore[arg-type]
        messages.success(request, "These bars are asked first now." if bars else "Nothing is asked first now.")
    return redirect("tunes:solo", pk)


@require_POST
@login_required
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what a bar is; then its reading opens. What was said first stands."""
    asked = get_object_or_404(SoloAsk, pk=pk)
    found = seen_or_404(request.user, asked.solo_id)
    form = pages_form(request, found)[1]
    said = answer_of(request.POST, form, asked.bar) if asked.bar < len(form.bars) else {}
    if said:
        services.answer(ask=asked, player=request.user, said=said)  # type: ignore[arg-type]
    else:
        messages.error(request, "Choose one of the answers first; any answer opens the reading.")
    return redirect(f"{reverse('tunes:solo', args=[found.pk])}#notes-title")
