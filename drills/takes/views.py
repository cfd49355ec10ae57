"""Takes: sent, listed, played with the staff moving, commented at a bar, answered, deleted; the programme's rule."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.forms import UUIDField
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from drills.bands import styles_of, usual_style
from drills.takes import selectors, services
from drills.takes.access import comment_or_404, may_comment, take_or_404
from drills.takes.belongs import places_of
from drills.takes.forms import AnswerForm, QuickWordsForm, RuleForm, SpotForm, TakeForm
from drills.takes.gate import AGAIN, GATE, Full
from drills.takes.making import material_of, plan_named
from drills.takes.models import Take, TakeComment, TakeRule
from drills.takes.page import numbered, page_of
from drills.takes.plans import EmptyPassage, NothingToRecord
from drills.takes.played import Spot
from drills.takes.record import form_recorder
from drills.views.band import tempo_of
from studio.access import director_required, instructor_required
from studio.requests import MemberRequest
from studio.web import next_url, paginate, with_microphone
from tunes.access import closed, signed_in_required
from tunes.pitch import read_sight
from tunes.recordings import streaming


@require_safe
@signed_in_required
def index(request: HttpRequest) -> HttpResponse:
    """A player's own takes, the newest first, and what still waits on this device."""
    context = {"page": paginate(request, selectors.listed(request.user)), "rule": TakeRule.current()}
    return render(request, "drills/takes/list.html", context)


@require_safe
@signed_in_required
def recorder(request: HttpRequest, revision: int) -> HttpResponse:
    """The part of a page that records a chorus over a chart; nothing (204) while the chart is closed or has no bars."""
    try:
        material = material_of(revision)
    except NothingToRecord as problem:
        raise Http404(str(problem)) from problem
    tune = material.revision.version.tune
    if closed(request.user, [tune]):
        return HttpResponse(status=204)
    try:
        styles = styles_of(material.study)
        style, sight = usual_style(tune, styles), read_sight(request.GET, request.user)
        swings = any(one.swing for one in styles if one.id == style)
        made = form_recorder(request.user, material, sight, tempo=tempo_of(tune), style=style, swings=swings)
    except EmptyPassage:
        return HttpResponse(status=204)
    return render(request, "drills/takes/_record.html", {"record": made})


@require_POST
@signed_in_required
def new(request: MemberRequest) -> HttpResponse:
    """Keep a take. JSON: 201 with its address; 200 when it is here already; 409 for another person's; 422 says what is wrong and what to do;
    429 with Retry-After (RFC 9110, 10.2.3) when many are sent at once."""
    if request.POST.get("player") not in (None, "", str(request.user.pk)):
        # A device that several people use: what one of them recorded is never kept as another's.
        return JsonResponse(
            {"problem": "This was recorded by somebody else. It waits on the device for them."}, status=409
        )
    token = _token(request)
    before = services.kept_before(player=request.user, token=token) if token else None
    if before is not None:
        return _kept(before, status=200)
    try:
        with GATE.entered():
            return _taken(request)
    except Full:
        problem = "Many takes are coming in just now. It is tried again in a moment."
        return JsonResponse({"problem": problem}, status=429, headers={"Retry-After": str(AGAIN)})


def _taken(request: MemberRequest) -> HttpResponse:
    """Look at a take that is new here, and keep it."""
    form = TakeForm(request.POST, request.FILES)
    if not form.is_valid():
        return JsonResponse({"problem": _first(form)}, status=422)
    data = form.cleaned_data
    try:
        plan = plan_named(
            request.user, kind=data["kind"], revision=data["revision"], line=data["line"], query=data["query"],
            tempo=data["tempo"],
        )  # fmt: skip
    except NothingToRecord as problem:
        return JsonResponse({"problem": str(problem)}, status=422)
    take = services.keep_take(
        player=request.user,
        plan=plan,
        heard=form.heard,
        about=form.about,
        token=data["token"],
    )
    return _kept(take, status=201)


def _token(request: HttpRequest) -> Any:
    try:
        return UUIDField().clean(request.POST.get("token", ""))
    except ValidationError:
        return None


def _kept(take: Take, status: int) -> JsonResponse:
    return JsonResponse(
        {"id": take.pk, "url": reverse("drills:take", args=[take.pk]), "title": take.title}, status=status
    )


def _first(form: Any) -> str:
    name, errors = next(iter(form.errors.items()))
    label = form.fields[name].label or name.replace("_", " ").capitalize() if name in form.fields else ""
    return f"{label}: {errors[0]}" if label else str(errors[0])


@with_microphone
@require_safe
@signed_in_required
def page(request: HttpRequest, pk: int) -> HttpResponse:
    """One take with its staff or chart; `?beside=` what it is heard in turn with."""
    take = take_or_404(request.user, pk)
    context = page_of(request.user, take, request.GET.get("beside", ""))
    return render(request, "drills/takes/take.html", context | {"belongs": places_of(request.user, take)})


@dataclass(frozen=True)
class _Kept:
    """What `streaming.send` reads of a stored sound."""

    file: Any
    size: int
    media_type: str
    digest: str
    uploaded: Any
    original_name: str


@require_safe
@signed_in_required
def sound(request: HttpRequest, pk: int) -> HttpResponseBase:
    """The sound of a take, in pieces if the player asks for pieces."""
    return send_sound(request, take_or_404(request.user, pk))


@require_safe
@signed_in_required
def wave(request: HttpRequest, pk: int) -> HttpResponse:
    """The waveform of a take, for a page that was opened before it was drawn. JSON: {peaks}; 204 while there is none."""
    take = take_or_404(request.user, pk)
    return JsonResponse({"peaks": take.peaks}) if take.peaks else HttpResponse(status=204)


def send_sound(request: HttpRequest, take: Take) -> HttpResponseBase:
    if not take.file:
        raise Http404("The sound of this take is deleted.")
    return _send(request, take, take.created, take.size)


@require_safe
@signed_in_required
def spoken(request: HttpRequest, pk: int) -> HttpResponseBase:
    """What was spoken about a take."""
    found = comment_or_404(request.user, pk)
    if not found.file:
        raise Http404
    return _send(request, found, found.created, found.size)


def _send(request: HttpRequest, row: Any, when: Any, size: int) -> HttpResponseBase:
    if not row.file.storage.exists(row.file.name):
        raise Http404
    kept = _Kept(row.file, size, row.media_type, row.digest, when, "")
    response = streaming.send(request, kept)  # type: ignore[arg-type]
    response.headers["Cache-Control"] = "private, no-store"
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response


@require_POST
@signed_in_required
def delete(request: HttpRequest, pk: int) -> HttpResponse:
    """The player deletes their take; nobody else."""
    take = take_or_404(request.user, pk)
    if take.player_id != request.user.pk:
        raise PermissionDenied("Only the player deletes a take.")
    services.remove(take=take)
    messages.success(request, f"Deleted: {take.title}. Its sound is gone from the programme's machine.")
    return redirect("drills:takes")


@require_POST
@signed_in_required
def comment(request: MemberRequest, pk: int) -> HttpResponse:
    """Say something at a bar and beat. JSON for the page's script, otherwise back to the take."""
    take = take_or_404(request.user, pk)
    if not may_comment(request.user, take):
        raise PermissionDenied("Who leads the ensemble comments on its takes.")
    form = SpotForm(request.POST, request.FILES, take=take)
    if not form.is_valid():
        return _said(request, take, problem=_first(form), status=422)
    data = form.cleaned_data
    services.comment(
        take=take, by=request.user, spot=Spot(data["chorus"], data["bar"], data["beat"]), token=data["token"],
        text=data["text"], spoken=form.heard,
    )  # fmt: skip
    return _said(request, take)


def _said(request: HttpRequest, take: Take, *, problem: str = "", status: int = 200) -> HttpResponse:
    """The comments of a take as they stand now: the list as a part of the page, or the page."""
    if request.headers.get("X-Topform") == "part" or request.headers.get("HX-Request"):
        comments = numbered(take)
        context = {
            "take": take, "comments": comments, "problem": problem, "mine": take.player_id == request.user.pk,
            "commenting": may_comment(request.user, take),
        }  # fmt: skip
        response = render(request, "drills/takes/_comments.html", context, status=status)
        places = [
            {"pk": row.pk, "number": row.number, "chorus": row.chorus, "bar": row.bar, "beat": row.beat}  # type: ignore[attr-defined]
            for row in comments
        ]
        response.headers["X-Topform-Places"] = json.dumps(places)
        return response
    if problem:
        messages.error(request, problem)
    return redirect(next_url(request, reverse("drills:take", args=[take.pk])))


@require_POST
@signed_in_required
def take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Who said it takes it back."""
    found = _comment(request, pk)
    if found.by_id != request.user.pk:
        raise PermissionDenied("Who wrote a comment takes it back.")
    services.take_back(comment=found)
    return _said(request, found.take)


@require_POST
@signed_in_required
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """The player answers a comment, once."""
    found = _comment(request, pk)
    if found.take.player_id != request.user.pk:
        raise PermissionDenied("The player answers.")
    form = AnswerForm(request.POST)
    if not form.is_valid():
        return _said(request, found.take, problem=_first(form), status=422)
    try:
        services.answer(comment=found, text=form.cleaned_data["text"])
    except services.AlreadyAnswered:
        return _said(request, found.take, problem="You have answered this comment already.", status=409)
    return _said(request, found.take)


def _comment(request: HttpRequest, pk: int) -> TakeComment:
    return comment_or_404(request.user, pk)


@require_POST
@instructor_required
def whole(request: HttpRequest, pk: int) -> HttpResponse:
    """The programme's words for a take as a whole."""
    take = take_or_404(request.user, pk)
    if not may_comment(request.user, take):
        raise PermissionDenied
    given = {
        name.partition("rubric-")[2]: str(value) for name, value in request.POST.items() if name.startswith("rubric-")
    }
    services.say_on_the_whole(take=take, words=given)
    if request.headers.get("X-Topform") == "part":
        return HttpResponse(status=204)
    return redirect(next_url(request, reverse("drills:take", args=[take.pk])))


@require_http_methods(["GET", "HEAD", "POST"])
@instructor_required
def quick_words(request: HttpRequest) -> HttpResponse:
    """What an instructor says often."""
    form = QuickWordsForm(request.POST or None, initial={"words": "\n".join(selectors.quick_words(request.user))})
    if request.method == "POST" and form.is_valid():
        services.set_quick_words(user=request.user, words=form.cleaned_data["words"])  # type: ignore[arg-type]
        messages.success(request, "Your quick words are kept.")
        return redirect(next_url(request, reverse("drills:quick-words")))
    context = {"form": form, "next": next_url(request, "")}
    return render(request, "drills/takes/words.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def rule(request: HttpRequest) -> HttpResponse:
    """How long takes are kept, how much room they take for each ensemble, the words for a take as a whole."""
    found = TakeRule.current()
    rubric = "\n".join(f"{question}: {', '.join(words)}" for question, words in found.rubric)
    form = RuleForm(request.POST or None, initial={"months": found.months, "rubric": rubric})
    if request.method == "POST" and form.is_valid():
        services.set_rule(**form.cleaned_data)
        messages.success(request, "The rule is kept. What it says to delete goes with the next daily round.")
        return redirect("drills:take-rule")
    context = {"form": form, "rule": found, "room": selectors.room_taken()}
    return render(request, "drills/takes/rule.html", context, status=422 if form.errors else 200)
