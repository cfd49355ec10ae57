"""The facts of a recording, with its sound file where the programme may keep one."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import ProtectedError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from studio.requests import MemberRequest
from tunes.access import editor_required
from tunes.forms import RecordingForm
from tunes.models import Recording, Tune
from tunes.recordings.forms import WithSound
from tunes.recordings.services import keep_sound
from tunes.services import tunes as services
from tunes.views.posted import posted

KEPT = "The recording is kept. Only members of the programme can hear it."


@require_http_methods(["GET", "HEAD", "POST"])
@editor_required
def recording_new(request: MemberRequest, pk: int) -> HttpResponse:
    tune = get_object_or_404(Tune, pk=pk)
    return _form(request, tune, Recording(tune=tune))


@require_http_methods(["GET", "HEAD", "POST"])
@editor_required
def recording_edit(request: MemberRequest, pk: int, recording: int) -> HttpResponse:
    found = get_object_or_404(Recording.objects.select_related("tune"), pk=recording, tune=pk)
    return _form(request, found.tune, found)


def _form(request: MemberRequest, tune: Tune, recording: Recording) -> HttpResponse:
    form = RecordingForm(posted(request), instance=recording)
    sound = WithSound(posted(request), request.FILES or None, by=request.user)
    if request.method == "POST" and all([form.is_valid(), sound.is_valid()]):
        saved = services.save_recording(recording=form.save(commit=False), by=request.user)
        return _with_sound(request, saved, sound) or redirect("tunes:tune", tune.pk)
    if request.method == "POST":
        sound.keep_file()
    context = {"form": form, "sound_form": sound, "tune": tune, "recording": recording if recording.pk else None}
    wrong = form.errors or sound.errors
    return render(request, "tunes/recording_form.html", context, status=422 if wrong else 200)


def _with_sound(request: MemberRequest, saved: Recording, sound: WithSound) -> HttpResponse | None:
    data = sound.cleaned_data
    if not data.get("file"):
        messages.success(request, "Recording saved.")
        return None
    keep_sound(recording=saved, upload=data["file"], sound=sound.sound, rights=data["rights"], by=request.user)
    sound.forget()
    messages.success(request, KEPT)
    return redirect("tunes:recording", saved.pk)


@require_POST
@editor_required
def recording_delete(request: HttpRequest, pk: int, recording: int) -> HttpResponse:
    found = get_object_or_404(Recording, pk=recording, tune=pk)
    try:
        found.delete()
    except ProtectedError:
        messages.error(request, f"“{found}” stays: a chart names it as its source, or work hangs on it.")
    else:
        messages.success(request, f"“{found}” was taken off the list.")
    return redirect("tunes:tune", pk)
