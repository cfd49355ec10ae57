"""Bars of a chart checked against what is played: a word on each, disputes, and how they are settled."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.response import Response

from api.errors import Unreadable
from api.listed import listed
from api.paging import page_of
from api.requests import Request
from api.scopes import TUNES_READ, TUNES_WRITE
from api.serializers import repertoire as shapes
from api.serializers.tunes import SavedRevisionSerializer
from api.views.base import Call
from api.views.repertoire import by_form
from tunes.access import refuse_held_chords
from tunes.checks import services
from tunes.checks.forms import RestForm, SettleForm, WordForm
from tunes.checks.selectors import disputes_seen
from tunes.models import BarCheck, ChartRevision, Recording
from tunes.study import chart_of

WORDS = listed(shapes.WordSerializer, "bar_word")


def revision_open(request: Request, pk: int) -> ChartRevision:
    """The revision; 403 while its chords are held back from the caller, because words on bars tell them."""
    found = get_object_or_404(ChartRevision.objects.select_related("version__tune", "source_recording"), pk=pk)
    refuse_held_chords(request.user, found.version.tune_id)
    return found


def _key(recording: Recording | None) -> int | None:
    return recording.pk if recording else None


class Checks(Call):
    scopes = {"GET": TUNES_READ, "POST": TUNES_WRITE}

    @extend_schema(
        tags=["charts"],
        summary="Everybody's words on the bars of a revision",
        responses=WORDS(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        rows = revision_open(request, pk).bar_checks.select_related("by", "settled_by").order_by("bar", "created", "pk")
        return page_of(request, rows, WORDS, self)

    @extend_schema(
        tags=["charts"],
        summary="Your word on one bar: agreed, or disputed with what is played there",
        request=shapes.WordIn,
        responses={201: shapes.WordSerializer},
        description="It replaces an earlier word of yours. Every member may say what they hear.",
    )
    def post(self, request: Request, pk: int) -> Response:
        revision, body = revision_open(request, pk), self.valid(shapes.WordIn, request)
        bar = body.pop("bar")
        if bar not in services.counted_bars(chart_of(revision.text)):
            raise Unreadable("This chart has no such bar to check. Bars count from 0; a pickup is not checked.")
        data = by_form(WordForm({**body, "recording": _key(body["recording"])}, tune=revision.version.tune))
        row = services.say(revision=revision, bar=bar, by=request.user, **data)
        return Response(shapes.WordSerializer(row).data, status=status.HTTP_201_CREATED)


class Rest(Call):
    scopes = {"POST": TUNES_WRITE}

    @extend_schema(
        tags=["charts"],
        summary="Agree to every bar that nobody has spoken about",
        request=shapes.RestIn,
        responses=shapes.RestOut,
        description="A revision counts as checked once every bar is agreed.",
    )
    def post(self, request: Request, pk: int) -> Response:
        revision, body = revision_open(request, pk), self.valid(shapes.RestIn, request)
        recording = by_form(RestForm({"recording": _key(body["recording"])}, tune=revision.version.tune))["recording"]
        count = services.agree_to_rest(revision=revision, by=request.user, recording=recording)
        return Response(shapes.RestOut({"agreed": count, "checked": revision.checked}).data)


class OneCheck(Call):
    scopes = {"DELETE": TUNES_WRITE}

    @extend_schema(tags=["charts"], summary="Take your own word on a bar back", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        services.withdraw(check=get_object_or_404(BarCheck.objects.select_related("by"), pk=pk, by=request.user))
        return Response(status=status.HTTP_204_NO_CONTENT)


class Disputes(Call):
    scopes = {"GET": TUNES_READ}

    @extend_schema(
        tags=["charts"],
        summary="Open disputes of the newest revisions, the oldest first",
        responses=WORDS(many=True),
    )
    def get(self, request: Request) -> Response:
        self.must_edit_repertoire(request)
        return page_of(request, disputes_seen(request.user), WORDS, self)


class Settle(Call):
    scopes = {"POST": TUNES_WRITE}

    @extend_schema(
        tags=["charts"],
        summary="Settle a dispute; a changed bar makes a new revision",
        request=shapes.SettleIn,
        responses=SavedRevisionSerializer,
    )
    def post(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        found: Any = get_object_or_404(
            BarCheck.objects.select_related("revision__version", "recording"), pk=pk, state="disputed", settled=None
        )
        refuse_held_chords(request.user, found.revision.version.tune_id)
        data = by_form(SettleForm(self.valid(shapes.SettleIn, request)))
        chords = data["chords"] if data["decision"] == "change" else ""
        try:
            made = services.settle(check=found, by=request.user, chords=chords, note=data["note"])
        except services.CannotSettle as error:
            raise Unreadable(str(error)) from error
        return Response(SavedRevisionSerializer(made).data)
