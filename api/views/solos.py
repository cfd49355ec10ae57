"""Solos written out: those of a tune, one of them, its kept notes."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.shortcuts import get_object_or_404
from django.urls import reverse
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.response import Response

from api.errors import Conflict, Unreadable
from api.listed import listed
from api.paging import page_of
from api.requests import Request
from api.scopes import TUNES_READ, WORK_WRITE
from api.serializers import lines
from api.serializers import solos as shapes
from api.views.base import Call
from api.views.repertoire import by_form
from tunes.access import refuse_held_chords
from tunes.models import Solo, Tune
from tunes.solos import selectors, services
from tunes.solos.access import seen_or_404, written_or_404
from tunes.solos.bars import form_length
from tunes.solos.forms import BeginForm, HeadForm, ShareForm
from tunes.solos.notes import NotesProblem, read_notes, write_notes
from tunes.solos.tapped import NoPlaces, read_onsets
from tunes.study import chart_of

SOLOS = listed(shapes.SoloSerializer, "solo")
SOLO_NOTES = listed(shapes.SoloRevisionSerializer, "solo_notes")


def _bars(solo: Solo) -> int:
    return len(selectors.covers(solo).places(form_length(chart_of(solo.revision.text))))


class Solos(Call):
    scopes = {"GET": TUNES_READ, "POST": WORK_WRITE}

    @extend_schema(
        tags=["tunes"],
        summary="Solos written out over a tune that you may see",
        responses=SOLOS(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        tune = get_object_or_404(Tune, pk=pk)
        refuse_held_chords(request.user, tune)
        return page_of(request, selectors.solos(request.user, tune), SOLOS, self)

    @extend_schema(
        tags=["tunes"],
        summary="Begin a solo: which bars, over which chart",
        request=shapes.SoloIn,
        responses={201: shapes.SoloSerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        tune = get_object_or_404(Tune, pk=pk)
        refuse_held_chords(request.user, tune)
        body = self.valid(shapes.SoloIn, request)
        data = by_form(BeginForm(body, tune=tune, revisions=selectors.charts_to_write_over(tune)))
        bars = len(data["covers"].places(form_length(chart_of(data["revision"].text))))
        solo = services.begin(
            by=request.user, revision=data["revision"], recording=data["recording"], player=data["player"],
            instrument=data["instrument"], covers=data["covers"], rights=data["rights"], bars=bars,
        )  # fmt: skip
        return Response(shapes.SoloSerializer(solo).data, status=status.HTTP_201_CREATED)


class OneSolo(Call):
    scopes = {"GET": TUNES_READ, "PATCH": WORK_WRITE, "DELETE": WORK_WRITE}

    @extend_schema(tags=["tunes"], summary="One solo", responses=shapes.SoloSerializer)
    def get(self, request: Request, pk: int) -> Response:
        return Response(shapes.SoloSerializer(seen_or_404(request.user, pk)).data)

    @extend_schema(
        tags=["tunes"],
        summary="Change what a solo of yours says of itself, or share it with an ensemble or with nobody",
        description="Bars are refused with 409 where notes, lines or questions would fall out of them or move.",
        request=shapes.SoloChangeIn,
        responses=shapes.SoloSerializer,
    )
    @transaction.atomic
    def patch(self, request: Request, pk: int) -> Response:
        solo = written_or_404(request.user, pk)
        body = self.valid(shapes.SoloChangeIn, request)
        shares, ensemble = "shared_with" in body, body.pop("shared_with", None)
        if body:
            _change_head(solo, body)
            solo.refresh_from_db()
        if shares:
            data = by_form(ShareForm({"ensemble": ensemble}, user=request.user, solo=solo))
            services.share(solo=solo, ensemble=data["ensemble"], url=reverse("tunes:solo", args=[solo.pk]))
        return Response(shapes.SoloSerializer(solo).data)

    @extend_schema(tags=["tunes"], summary="Throw a solo of yours away", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        services.remove(solo=written_or_404(request.user, pk))
        return Response(status=status.HTTP_204_NO_CONTENT)


def _change_head(solo: Solo, changes: dict[str, Any]) -> None:
    """By the page's own form: what is not sent is as it was."""
    form = HeadForm(solo=solo)
    as_it_was = {name: form.get_initial_for_field(field, name) for name, field in form.fields.items()}
    form = HeadForm(as_it_was | changes, solo=solo)
    data = by_form(form)
    fields = {name: data[name] for name in ("recording", "player", "instrument", "rights", "covers")}
    try:
        services.edit_head(solo=solo, before=selectors.covers(solo), form=form.form_bars, **fields)
    except services.WouldLose as problem:
        raise Conflict(f"{problem}.") from problem


class SoloNotes(Call):
    scopes = {"GET": TUNES_READ, "POST": WORK_WRITE}

    @extend_schema(
        tags=["tunes"],
        summary="The kept notes of a solo, the newest first",
        responses=SOLO_NOTES(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        solo = seen_or_404(request.user, pk)
        return page_of(request, solo.revisions.select_related("by"), SOLO_NOTES, self)

    @extend_schema(
        tags=["tunes"],
        summary="Keep notes of a solo of yours as a new revision",
        request=shapes.NotesSerializer,
        responses={201: shapes.SoloRevisionSerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        solo = written_or_404(request.user, pk)
        body: Any = self.valid(shapes.NotesSerializer, request)
        try:
            bars = read_notes(body, _bars(solo))
        except NotesProblem as problem:
            raise Unreadable(str(problem)) from problem
        kept = services.keep(solo=solo, bars=bars, by=request.user)
        return Response(shapes.SoloRevisionSerializer(kept).data, status=status.HTTP_201_CREATED)


class SoloPlaced(Call):
    scopes = {"POST": WORK_WRITE}

    @extend_schema(
        tags=["tunes"],
        summary="Lay onsets in the seconds of the recording on the bars of a solo of yours, as a suggestion; nothing is written",
        request=lines.OnsetsIn,
        responses=lines.SuggestedSerializer,
    )
    def post(self, request: Request, pk: int) -> Response:
        solo = written_or_404(request.user, pk)
        body: Any = self.valid(lines.OnsetsIn, request)
        try:
            found = selectors.suggested(solo, read_onsets([dict(row) for row in body["onsets"]]), swing=body["swing"])
        except NoPlaces as problem:
            raise Unreadable(str(problem)) from problem
        return Response({"notes": write_notes(found.bars), "filled": found.filled, "remarks": found.remarks})
