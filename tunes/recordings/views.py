"""Pages of recordings: what to hear, one recording with its form map, the listening log, the melody's map."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.access import can_edit_repertoire, ensembles_led, instructor_required
from studio.web import next_url, paginate
from tunes.access import closed, editor_required
from tunes.models import LyricReference, Phrase, Recording, RecordingFile, Tune
from tunes.recordings import selectors, services, streaming
from tunes.recordings.charts import form_bars, form_chart
from tunes.recordings.form_map import FormMapProblem, bar_times, checked
from tunes.recordings.forms import HeardForm, LyricForm, MarksForm, PhraseForm, UploadForm

HEARING = "hearing"


def _recording(pk: int) -> Recording:
    return get_object_or_404(Recording.objects.select_related("tune", "sound"), pk=pk)


def _sound(recording: Recording) -> RecordingFile | None:
    return getattr(recording, "sound", None)


@require_safe
@login_required
def recordings(request: HttpRequest, tune: int) -> HttpResponse:
    """What to hear of a tune, the reference first and why; what the person has logged."""
    found = get_object_or_404(Tune, pk=tune)
    rows = list(selectors.recordings_of(found, request.user))
    may_edit = can_edit_repertoire(request.user)
    if may_edit:
        counts = {row["pk"]: row["listeners"] for row in selectors.heard_in(found, ensembles_led(request.user))}
        for row in rows:
            row.listeners = counts.get(row.pk, 0)  # type: ignore[attr-defined]
    context = {
        "tune": found,
        "rows": rows,
        "may_edit": may_edit,
        "caution": selectors.caution_due(request.user, HEARING),
        "closed": closed(request.user, [found]).get(found.pk),
    }
    return render(request, "tunes/recordings/list.html", context)


@require_safe
@instructor_required
def heard_by(request: HttpRequest, tune: int) -> HttpResponse:
    """What the players one leads have heard of a tune, what they noticed, how their ear exercises went."""
    found = get_object_or_404(Tune, pk=tune)
    page = paginate(request, selectors.players_led(ensembles_led(request.user)))
    players = list(page.object_list)
    heard = selectors.listening_evidence(players, [found])
    ear = selectors.ear_evidence(players, [found])
    noticed = selectors.last_noticed(players, found)
    rows = [
        {"player": player, "heard": heard.get((player.pk, tune)), "noticed": noticed.get(player.pk),
         "ear": list(ear.get((player.pk, tune), {}).values())}
        for player in players
    ]  # fmt: skip
    return render(request, "tunes/recordings/heard_by.html", {"tune": found, "page": page, "rows": rows})


@require_safe
@login_required
def recording(request: HttpRequest, pk: int) -> HttpResponse:
    """One recording: the player with slower playback, the form map, the loop, the log."""
    return render(request, "tunes/recordings/recording.html", _recording_context(request, _recording(pk)))


def _recording_context(request: HttpRequest, found: Recording, form: HeardForm | None = None) -> dict[str, Any]:
    bars = form_bars(form_chart(found.tune))
    moments = selectors.moments_of(found)
    kept = _sound(found)
    duration = kept.duration if kept else None
    return {
        "recording": found,
        "tune": found.tune,
        "sound": kept,
        "bars": bars,
        "sections": _sections(bars),
        "moments": moments,
        "page_data": {
            "bars": len(bars) or 1,
            "sections": [[bar.number, bar.label] for bar in bars if bar.opens] or [[1, ""]],
            "moments": [[m.chorus, m.bar, m.seconds, m.label] for m in moments],
            "times": _times(moments, len(bars) or 1, duration),
            "tempo": found.tempo or 0,
            "beats": int(found.tune.metre.split("/")[0]) if found.tune.metre.endswith("/4") else 0,
            "duration": duration,
            "wave": kept.wave if kept else {},
        },
        "form": form or HeardForm(),
        "log": list(selectors.log_of(request.user, found)[:5]),
        "may_edit": can_edit_repertoire(request.user),
        "caution": selectors.caution_due(request.user, HEARING),
    }


def _sections(bars: Any) -> list[dict[str, Any]]:
    """Bars grouped by section for the page."""
    groups: list[dict[str, Any]] = []
    for bar in bars:
        if bar.opens or not groups:
            groups.append({"label": bar.label, "bars": []})
        groups[-1]["bars"].append(bar)
    return groups


def _times(moments: Any, bars: int, duration: float | None) -> list[list[float]]:
    """Bar lines in seconds; none when the form has changed so that the marks no longer fit it."""
    try:
        return bar_times(moments, bars, duration)
    except FormMapProblem:
        return []


@require_safe
@login_required
def sound(request: HttpRequest, pk: int) -> HttpResponseBase:
    """The sound itself, in pieces if the player asks for pieces."""
    kept = get_object_or_404(RecordingFile, recording=pk)
    return streaming.send(request, kept)


@require_http_methods(["GET", "HEAD", "POST"])
@editor_required
def upload(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep a sound file, when the programme has the right to."""
    found = _recording(pk)
    form = UploadForm(request.POST or None, request.FILES or None, by=request.user)  # type: ignore[arg-type]
    if request.method == "POST" and form.is_valid():
        services.keep_sound(
            recording=found,
            upload=form.cleaned_data["file"],
            sound=form.sound,
            rights=form.cleaned_data["rights"],
            by=request.user,  # type: ignore[arg-type]
        )
        form.forget()
        messages.success(request, "The recording is kept. Only members of the programme can hear it.")
        return redirect("tunes:recording", pk)
    if request.method == "POST":
        form.keep_file()
    status = 422 if request.method == "POST" else 200
    context = {"recording": found, "tune": found.tune, "form": form, "sound": _sound(found)}
    return render(request, "tunes/recordings/upload.html", context, status=status)


@require_POST
@editor_required
def remove_sound(request: HttpRequest, pk: int) -> HttpResponse:
    kept = get_object_or_404(RecordingFile, recording=pk)
    services.remove_sound(sound=kept)
    messages.success(request, "The sound file is deleted. The recording stays on the list.")
    return redirect("tunes:recording", pk)


@require_POST
@editor_required
def marks(request: HttpRequest, pk: int) -> HttpResponse:
    """Save the form map. Answers JSON: the times of every bar, or what is wrong with which mark."""
    found = _recording(pk)
    form = MarksForm(request.POST)
    if not form.is_valid():
        return JsonResponse({"problem": " ".join(map(str, form.errors["moments"]))}, status=422)
    count = len(form_bars(form_chart(found.tune))) or 1
    kept = _sound(found)
    duration = kept.duration if kept else None
    try:
        moments = checked(form.cleaned_data["moments"], count, duration)
    except FormMapProblem as problem:
        return JsonResponse({"problem": str(problem)}, status=422)
    services.save_marks(recording=found, moments=moments, by=request.user)  # type: ignore[arg-type]
    return JsonResponse({"times": _times(moments, count, duration), "saved": len(moments)})


@require_POST
@login_required
def heard(request: HttpRequest, pk: int) -> HttpResponse:
    """One entry in the person's own listening log."""
    found = _recording(pk)
    form = HeardForm(request.POST)
    if not form.is_valid():
        context = _recording_context(request, found, form)
        return render(request, "tunes/recordings/recording.html", context, status=422)
    services.log_listening(entry=form.save(commit=False), player=request.user, recording=found)  # type: ignore[arg-type]
    messages.success(request, "Written in your listening log.")
    return redirect("tunes:recording", pk)


@require_safe
@login_required
def listening_log(request: HttpRequest) -> HttpResponse:
    """The person's own log, newest first."""
    page = paginate(request, selectors.log_of(request.user))
    return render(request, "tunes/recordings/log.html", {"page": page})


@require_POST
@login_required
def caution_seen(request: HttpRequest, name: str) -> HttpResponse:
    services.caution_seen(user=request.user, name=name)  # type: ignore[arg-type]
    return redirect(next_url(request))


# --- the melody's map and where its words are


def _map_context(request: HttpRequest, found: Tune, **forms: Any) -> dict[str, Any]:
    bars = form_bars(form_chart(found))
    words = LyricReference.objects.filter(tune=found).first()
    phrases = list(found.phrases.all())
    letters: dict[str, int] = {}
    for phrase in phrases:
        phrase.times = letters[phrase.label] = letters.get(phrase.label, 0) + 1  # type: ignore[attr-defined]
    return {
        "tune": found,
        "bars": bars,
        "phrases": phrases,
        "words": words,
        "may_edit": can_edit_repertoire(request.user),
        "phrase_form": forms.get("phrase_form") or PhraseForm(bars=len(bars)),
        "words_form": forms.get("words_form") or LyricForm(instance=words),
    }


@require_safe
@login_required
def melody_map(request: HttpRequest, tune: int) -> HttpResponse:
    """The melody by phrase; where its words may be read."""
    found = get_object_or_404(Tune, pk=tune)
    return render(request, "tunes/recordings/melody_map.html", _map_context(request, found))


@require_POST
@editor_required
def add_phrase(request: HttpRequest, tune: int) -> HttpResponse:
    found = get_object_or_404(Tune, pk=tune)
    form = PhraseForm(request.POST, bars=len(form_bars(form_chart(found))))
    if not form.is_valid():
        context = _map_context(request, found, phrase_form=form)
        return render(request, "tunes/recordings/melody_map.html", context, status=422)
    phrase: Phrase = form.save(commit=False)
    phrase.tune = found
    phrase.save()
    return redirect("tunes:melody-map", tune)


@require_POST
@editor_required
def remove_phrase(request: HttpRequest, pk: int) -> HttpResponse:
    phrase = get_object_or_404(Phrase, pk=pk)
    phrase.delete()
    return redirect("tunes:melody-map", phrase.tune_id)


@require_POST
@editor_required
def save_words(request: HttpRequest, tune: int) -> HttpResponse:
    """First line and link only."""
    found = get_object_or_404(Tune, pk=tune)
    form = LyricForm(request.POST, instance=LyricReference.objects.filter(tune=found).first())
    if not form.is_valid():
        context = _map_context(request, found, words_form=form)
        return render(request, "tunes/recordings/melody_map.html", context, status=422)
    row = form.save(commit=False)
    row.tune = found
    row.save()
    return redirect("tunes:melody-map", tune)
