"""What hangs on tunes and charts: idioms, checked bars, lead sheets, melodies, sound and form maps."""

from __future__ import annotations

import json
from typing import Any

from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.exceptions import ValidationError
from rest_framework.parsers import MultiPartParser
from rest_framework.response import Response

from api.errors import Unreadable
from api.listed import listed, noticed, only_since
from api.paging import Pages, page_of
from api.requests import Request
from api.scopes import TUNES_READ, TUNES_WRITE, WORK_READ, WORK_WRITE
from api.serializers import repertoire as shapes
from api.views.base import Call
from tunes import repertoire, selectors
from tunes.access import held_back
from tunes.lead_sheets import services as sheets
from tunes.lead_sheets import views as files
from tunes.lead_sheets.forms import LeadSheetForm, MelodyForm
from tunes.models import Idiom, Melody, Recording, RecordingFile, Tune
from tunes.recordings import selectors as heard
from tunes.recordings import services as keeping
from tunes.recordings import streaming
from tunes.recordings.charts import form_bars, form_chart
from tunes.recordings.form_map import FormMapProblem, checked
from tunes.recordings.forms import HeardForm, MarksForm, UploadForm
from tunes.services.tunes import save_idiom

IDIOMS = listed(shapes.IdiomTotalSerializer, "idiom")
MELODIES = listed(shapes.MelodySerializer, "melody")
HEARD = listed(shapes.HeardSerializer, "own_listening")

ANALYSIS = OpenApiParameter("analysis", str, enum=["yes"], description="With the functions")


def by_form(form: Any) -> dict[str, Any]:
    """What the page's own form makes of a body; 400 with its sentences otherwise."""
    if not form.is_valid():
        raise ValidationError({"detail" if name == "__all__" else name: errors for name, errors in form.errors.items()})
    return dict(form.cleaned_data)


class Idioms(Call):
    scopes = {"GET": TUNES_READ, "POST": TUNES_WRITE}
    throttle_scope = "heavy"

    @extend_schema(
        tags=["tunes"],
        summary="The programme's idioms, and how often each occurs",
        responses=IDIOMS(many=True),
    )
    def get(self, request: Request) -> Response:
        pages, agreed = Pages(), selectors.agreed_stamps()
        asked = only_since(request, selectors.idioms(), IDIOMS)
        rows: Any = pages.paginate_queryset(asked, request, view=self) or []
        hidden = set(held_back(request.user, agreed[1].values()))
        totals = repertoire.totals(rows, hidden=hidden, agreed=agreed)
        context = {"changed": noticed(IDIOMS)(totals)}
        return pages.get_paginated_response(IDIOMS(totals, many=True, context=context).data)

    @extend_schema(
        tags=["tunes"], summary="Name an idiom", request=shapes.IdiomIn, responses={201: shapes.IdiomSerializer}
    )
    def post(self, request: Request) -> Response:
        self.must_edit_repertoire(request)
        return Response(_named(self, request, Idiom()), status=status.HTTP_201_CREATED)


class OneIdiom(Call):
    scopes = {"GET": TUNES_READ, "PATCH": TUNES_WRITE, "DELETE": TUNES_WRITE}

    @extend_schema(tags=["tunes"], summary="One idiom", responses=shapes.IdiomSerializer)
    def get(self, request: Request, pk: int) -> Response:
        return Response(shapes.IdiomSerializer(get_object_or_404(Idiom, pk=pk)).data)

    @extend_schema(tags=["tunes"], summary="Change an idiom", request=shapes.IdiomIn, responses=shapes.IdiomSerializer)
    def patch(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        return Response(_named(self, request, get_object_or_404(Idiom, pk=pk), partial=True))

    @extend_schema(tags=["tunes"], summary="Name an idiom no longer", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        get_object_or_404(Idiom, pk=pk).delete()
        return Response(status=status.HTTP_204_NO_CONTENT)


def _named(call: Call, request: Request, idiom: Idiom, *, partial: bool = False) -> Any:
    form: Any = call.form(shapes.IdiomIn, request, instance=idiom, partial=partial)
    row = save_idiom(idiom=form.checked(form.validated_data, idiom), by=request.user)
    return shapes.IdiomSerializer(row).data


class Places(Call):
    scopes = {"GET": TUNES_READ}
    throttle_scope = "heavy"

    @extend_schema(
        tags=["tunes"],
        summary="Where an idiom occurs across the agreed charts",
        responses=shapes.PlaceSerializer(many=True),
        description="Tunes whose functions are held back from you are left out.",
    )
    def get(self, request: Request, pk: int) -> Response:
        idiom, agreed, pages = get_object_or_404(selectors.idioms(), pk=pk), selectors.agreed_stamps(), Pages()
        hidden = set(held_back(request.user, agreed[1].values()))
        try:
            found = repertoire.places(idiom, hidden=hidden, agreed=agreed)
        except ValueError as problem:
            raise Unreadable(str(problem)) from problem
        shown = pages.paginate_queryset(found, request, view=self) or []
        return pages.get_paginated_response(shapes.PlaceSerializer(repertoire.described(list(shown)), many=True).data)


class LeadSheets(Call):
    scopes = {"POST": TUNES_WRITE}
    throttle_scope = "heavy"
    parser_classes = (MultiPartParser,)

    @extend_schema(
        tags=["charts"],
        summary="Read a lead sheet: its chart as text, and everything that is lost",
        request=shapes.FileIn,
        responses=shapes.LeadSheetSerializer,
        description="Nothing is kept: send the text as a version of a tune.",
    )
    def post(self, request: Request) -> Response:
        self.must_edit_repertoire(request)
        form = LeadSheetForm(None, {"file": self.valid(shapes.FileIn, request)["file"]})  # type: ignore[arg-type]
        by_form(form)
        return Response(shapes.LeadSheetSerializer(form.reading).data)


class MusicXml(Call):
    scopes = {"GET": TUNES_READ}

    @extend_schema(
        tags=["charts"],
        summary="A revision as MusicXML 4.0, concert pitch",
        parameters=[ANALYSIS],
        responses={(200, "application/vnd.recordare.musicxml+xml"): OpenApiTypes.BINARY},
    )
    def get(self, request: Request, pk: int) -> HttpResponse:
        return files.musicxml_response(request, pk)


class PlainText(Call):
    scopes = {"GET": TUNES_READ}

    @extend_schema(
        tags=["charts"],
        summary="A revision as plain text to read",
        parameters=[ANALYSIS],
        responses={(200, "text/plain"): OpenApiTypes.STR},
    )
    def get(self, request: Request, pk: int) -> HttpResponse:
        return files.text_response(request, pk)


class Melodies(Call):
    scopes = {"GET": TUNES_READ, "POST": TUNES_WRITE}
    parser_classes = (MultiPartParser,)

    @extend_schema(tags=["charts"], summary="Melodies kept for versions of a tune", responses=MELODIES(many=True))
    def get(self, request: Request, pk: int) -> Response:
        rows = Melody.objects.filter(version__tune=get_object_or_404(Tune, pk=pk)).select_related("by").order_by("pk")
        return page_of(request, rows, MELODIES, self)

    @extend_schema(
        tags=["charts"],
        summary="Keep the melody of a version, instead of any earlier one",
        request=shapes.MelodyIn,
        responses={201: shapes.MelodySerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        tune, body = get_object_or_404(Tune, pk=pk), self.valid(shapes.MelodyIn, request)
        form = MelodyForm(body, {"file": body["file"]}, tune=tune)
        data = by_form(form)
        row = sheets.keep_melody(
            version=data["version"],
            melody=form.melody,
            rights=data["rights"],
            source_name=data["file"].name or "",
            by=request.user,
        )
        return Response(shapes.MelodySerializer(row).data, status=status.HTTP_201_CREATED)


class OneMelody(Call):
    scopes = {"DELETE": TUNES_WRITE}

    @extend_schema(tags=["charts"], summary="Delete the notation of a melody", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        get_object_or_404(Melody, pk=pk).delete()
        return Response(status=status.HTTP_204_NO_CONTENT)


class Sound(Call):
    scopes = {"GET": TUNES_READ, "POST": TUNES_WRITE, "DELETE": TUNES_WRITE}
    parser_classes = (MultiPartParser,)

    @extend_schema(
        tags=["tunes"],
        summary="The sound of a recording, where the programme keeps it",
        responses={
            (200, "audio/*"): OpenApiTypes.BINARY,
            (206, "audio/*"): OpenApiTypes.BINARY,
            304: None,
            412: None,
            416: None,
        },
        description="Parts by Range (RFC 9110, section 14).",
    )
    def get(self, request: Request, pk: int) -> HttpResponseBase:
        return streaming.send(request, get_object_or_404(RecordingFile, recording=pk))

    @extend_schema(
        tags=["tunes"],
        summary="Keep a sound file, when the programme has the right to",
        request=shapes.KeepIn,
        responses={201: shapes.SoundSerializer},
        description="Instead of any earlier one.",
    )
    def post(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        recording, body = get_object_or_404(Recording, pk=pk), self.valid(shapes.KeepIn, request)
        form = UploadForm(body, {"file": body["file"]})
        data = by_form(form)
        row = keeping.keep_sound(
            recording=recording, upload=data["file"], sound=form.sound, rights=data["rights"], by=request.user
        )
        return Response(shapes.SoundSerializer(row).data, status=status.HTTP_201_CREATED)

    @extend_schema(
        tags=["tunes"], summary="Delete the sound file; the recording stays on the list", responses={204: None}
    )
    def delete(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        keeping.remove_sound(sound=get_object_or_404(RecordingFile, recording=pk))
        return Response(status=status.HTTP_204_NO_CONTENT)


class FormMap(Call):
    scopes = {"GET": TUNES_READ, "PUT": TUNES_WRITE}

    @extend_schema(
        tags=["tunes"],
        summary="Where the bars of each chorus begin in a recording",
        responses=shapes.FormMarksSerializer,
    )
    def get(self, request: Request, pk: int) -> Response:
        moments = heard.moments_of(get_object_or_404(Recording, pk=pk))
        return Response(shapes.FormMarksSerializer({"moments": moments}).data)

    @extend_schema(
        tags=["tunes"],
        summary="Put another form map in its place",
        request=shapes.FormMarksSerializer,
        responses=shapes.FormMarksSerializer,
    )
    def put(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        recording = get_object_or_404(Recording.objects.select_related("tune", "sound"), pk=pk)
        sent = self.valid(shapes.FormMarksSerializer, request)["moments"]
        rows = by_form(MarksForm({"moments": json.dumps(sent)}))["moments"]
        sound = getattr(recording, "sound", None)
        try:
            moments = checked(rows, len(form_bars(form_chart(recording.tune))) or 1, sound.duration if sound else None)
        except FormMapProblem as problem:
            raise Unreadable(str(problem)) from problem
        keeping.save_marks(recording=recording, moments=moments, by=request.user)
        return self.get(request, pk)


class Heard(Call):
    scopes = {"GET": WORK_READ, "POST": WORK_WRITE}

    @extend_schema(
        tags=["tunes"],
        summary="Your listening log of one recording, the newest first",
        responses=HEARD(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        rows = heard.log_of(request.user, get_object_or_404(Recording, pk=pk))
        return page_of(request, rows, HEARD, self)

    @extend_schema(
        tags=["tunes"],
        summary="Write in your listening log; it counts for every step that asks for it",
        request=shapes.HeardIn,
        responses={201: shapes.HeardSerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        recording, body = get_object_or_404(Recording, pk=pk), self.valid(shapes.HeardIn, request)
        form = HeardForm(body)
        by_form(form)
        row = keeping.log_listening(entry=form.save(commit=False), player=request.user, recording=recording)
        return Response(shapes.HeardSerializer(row).data, status=status.HTTP_201_CREATED)
