"""Tunes, recordings and chart versions."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from django.db import IntegrityError
from django.db.models import ProtectedError
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.response import Response

from api.errors import Conflict
from api.listed import listed
from api.paging import page_of
from api.requests import Request
from api.scopes import TUNES_READ, TUNES_WRITE
from api.serializers.tunes import (
    ByForm,
    RecordingIn,
    RecordingSerializer,
    TuneIn,
    TuneSerializer,
)
from api.views.base import Call
from tunes import selectors
from tunes.access import unnamed_forms
from tunes.models import Recording, Tune
from tunes.services.tunes import delete_tune, save_recording

TUNES = listed(TuneSerializer, "tune")
RECORDINGS = listed(RecordingSerializer, "recording")

WORDS = OpenApiParameter("q", str, description="Words in title, composer, feel, form or leader")
FILTERS = [
    WORDS,
    *(OpenApiParameter(name, str) for name in ("form", "key", "metre")),
    OpenApiParameter("state", str, enum=["checked", "unchecked", "no-chart", "lyrics"]),
]


def checked_object(serializer: type[Any], request: Request, instance: Any, partial: bool) -> Any:
    """`instance` with the body's fields, checked by the serializer and then by the page's own form."""
    form = Call.form(serializer, request, instance=instance, partial=partial)
    assert isinstance(form, ByForm)
    return form.checked(form.validated_data, instance)


class Tunes(Call):
    scopes = {"GET": TUNES_READ, "POST": TUNES_WRITE}

    @extend_schema(tags=["tunes"], summary="The repertoire", parameters=FILTERS, responses=TUNES(many=True))
    def get(self, request: Request) -> Response:
        asked = {
            name: request.query_params.get(name, "").replace("\x00", "") for name in ("form", "key", "metre", "state")
        }
        words = request.query_params.get("q", "").replace("\x00", "")[:200]
        chosen = selectors.as_seen_by(request.user, selectors.TuneFilter(words=words, **asked))  # type: ignore[arg-type]
        return page_of(
            request,
            selectors.tunes(chosen),
            TUNES,
            self,
            unnamed=lambda page: unnamed_forms(request.user, page),
        )

    @extend_schema(tags=["tunes"], summary="Add a tune", request=TuneIn, responses={201: TuneSerializer})
    def post(self, request: Request) -> Response:
        self.must_edit_repertoire(request)
        tune = checked_object(TuneIn, request, Tune(created_by=request.user), partial=False)
        tune.save()
        return Response(TuneSerializer(tune).data, status=status.HTTP_201_CREATED)


class OneTune(Call):
    scopes = {"GET": TUNES_READ, "PATCH": TUNES_WRITE, "DELETE": TUNES_WRITE}

    @extend_schema(tags=["tunes"], summary="One tune", responses=TuneSerializer)
    def get(self, request: Request, pk: int) -> Response:
        tune = get_object_or_404(Tune, pk=pk)
        return Response(TuneSerializer(tune, context={"unnamed": unnamed_forms(request.user, [tune])}).data)

    @extend_schema(tags=["tunes"], summary="Change a tune", request=TuneIn, responses=TuneSerializer)
    def patch(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        tune = checked_object(TuneIn, request, get_object_or_404(Tune, pk=pk), partial=True)
        tune.save()
        return Response(TuneSerializer(tune).data)

    @extend_schema(
        tags=["tunes"],
        summary="Take a tune out of the repertoire; 409 when work was assigned on it",
        responses={204: None},
    )
    def delete(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        return _deleted(
            partial(delete_tune, tune=get_object_or_404(Tune, pk=pk)),
            "It stays: players have been assigned work on it.",
        )


class Recordings(Call):
    scopes = {"GET": TUNES_READ, "POST": TUNES_WRITE}

    @extend_schema(tags=["tunes"], summary="Recordings of a tune", responses=RECORDINGS(many=True))
    def get(self, request: Request, pk: int) -> Response:
        return page_of(request, get_object_or_404(Tune, pk=pk).recordings.all(), RECORDINGS, self)

    @extend_schema(tags=["tunes"], summary="Add a recording", request=RecordingIn, responses={201: RecordingSerializer})
    def post(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        recording = checked_object(RecordingIn, request, Recording(tune=get_object_or_404(Tune, pk=pk)), partial=False)
        return Response(_saved(recording, request), status=status.HTTP_201_CREATED)


class OneRecording(Call):
    scopes = {"GET": TUNES_READ, "PATCH": TUNES_WRITE, "DELETE": TUNES_WRITE}

    @extend_schema(tags=["tunes"], summary="One recording", responses=RecordingSerializer)
    def get(self, request: Request, pk: int) -> Response:
        return Response(RecordingSerializer(get_object_or_404(Recording, pk=pk)).data)

    @extend_schema(
        tags=["tunes"],
        summary="Change a recording, or make it the reference",
        request=RecordingIn,
        responses=RecordingSerializer,
    )
    def patch(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        return Response(
            _saved(checked_object(RecordingIn, request, get_object_or_404(Recording, pk=pk), partial=True), request)
        )

    @extend_schema(
        tags=["tunes"],
        summary="Take a recording off the list; 409 when a chart or work hangs on it",
        responses={204: None},
    )
    def delete(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        return _deleted(
            get_object_or_404(Recording, pk=pk).delete, "It stays: a chart names it as its source, or work hangs on it."
        )


def _deleted(delete: Callable[[], Any], why_not: str) -> Response:
    try:
        delete()
    except ProtectedError as error:
        raise Conflict(why_not) from error
    return Response(status=status.HTTP_204_NO_CONTENT)


def _saved(recording: Recording, request: Request) -> Any:
    try:
        save_recording(recording=recording, by=request.user)
    except IntegrityError as error:
        raise Conflict("Another recording was made the reference at the same moment. Try again.") from error
    return RecordingSerializer(recording).data
