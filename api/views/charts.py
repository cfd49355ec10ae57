"""Chart text in, analysis out; versions and revisions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.exceptions import ValidationError as FormProblem
from django.db import IntegrityError
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.exceptions import ValidationError
from rest_framework.response import Response

from api.analysis import analysis_body, problem_body
from api.errors import Conflict, Unreadable
from api.listed import listed
from api.paging import page_of
from api.requests import Request
from api.scopes import TUNES_READ, TUNES_WRITE
from api.serializers.tunes import (
    AnalyseOut,
    AnalysisSerializer,
    RevisionIn,
    RevisionRowSerializer,
    RevisionSerializer,
    SavedRevisionSerializer,
    TextIn,
    VersionChange,
    VersionIn,
    VersionSerializer,
)
from api.views.base import Call
from studio.instruments import INSTRUMENTS
from tunes import selectors
from tunes.access import closed, refuse_held_chords, text_without_form, unnamed_forms
from tunes.checks import services as checks
from tunes.forms import RevisionForm, read_key
from tunes.harmony.charts import parse_chart
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.problems import Problem
from tunes.models import ChartRevision, ChartVersion, Tune
from tunes.services import tunes as tune_services
from tunes.services.charts import ChartHasProblems, RevisionConflict
from tunes.study import StudyChart, study_chart, study_of_text

VERSIONS = listed(VersionSerializer, "version")
REVISIONS = listed(RevisionRowSerializer, "revision")


def refuse(problems: Sequence[Problem], text: str) -> Unreadable:
    chart = parse_chart(text).chart
    return Unreadable(
        "The chart has problems; each one says where and what to write instead.",
        [problem_body(problem, chart) for problem in problems],
    )


class Analyse(Call):
    scopes = {"POST": TUNES_READ}
    throttle_scope = "heavy"

    @extend_schema(
        tags=["charts"],
        summary="Analyse a chart text without keeping it",
        request=TextIn,
        responses=AnalyseOut,
        description="For instructors: for players it would be the answer key of their quizzes.",
    )
    def post(self, request: Request) -> Response:
        self.must_edit_repertoire(request)
        text = self.valid(TextIn, request)["text"]
        reading = parse_chart(text)
        body = analysis_body(study_of_text(text)) if reading.chart else None
        return Response({"problems": [problem_body(p, reading.chart) for p in reading.problems], "analysis": body})


class Versions(Call):
    scopes = {"GET": TUNES_READ, "POST": TUNES_WRITE}

    @extend_schema(tags=["charts"], summary="Chart versions of a tune", responses=VERSIONS(many=True))
    def get(self, request: Request, pk: int) -> Response:
        versions = list(get_object_or_404(Tune, pk=pk).versions.all())
        selectors.attach_latest(versions)
        return page_of(request, versions, VERSIONS, self, closed=bool(closed(request.user, [pk])))

    @extend_schema(
        tags=["charts"],
        summary="Add a chart version with its first revision",
        request=VersionIn,
        responses={201: SavedRevisionSerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        tune = get_object_or_404(Tune, pk=pk)
        body = self.valid(VersionIn, request)
        return _save(tune, None, request, body)


class OneVersion(Call):
    scopes = {"GET": TUNES_READ, "PATCH": TUNES_WRITE}

    @extend_schema(tags=["charts"], summary="One chart version", responses=VersionSerializer)
    def get(self, request: Request, pk: int) -> Response:
        version = get_object_or_404(ChartVersion, pk=pk)
        selectors.attach_latest([version])
        return Response(
            VersionSerializer(version, context={"closed": bool(closed(request.user, [version.tune_id]))}).data
        )

    @extend_schema(
        tags=["charts"], summary="Rename a version, or agree on it", request=VersionChange, responses=VersionSerializer
    )
    def patch(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        version = get_object_or_404(ChartVersion.objects.select_related("tune"), pk=pk)
        body = self.valid(VersionChange, request)
        if "name" in body:
            form = RevisionForm({"name": body["name"], "source_kind": "other"}, tune=version.tune, version=version)
            if not form.is_valid():
                raise ValidationError(form.errors)  # type: ignore[arg-type]
            tune_services.rename_version(version=version, name=form.cleaned_data["name"])
        if body.get("is_agreed"):
            tune_services.agree_on(version=version)
        return self.get(request, pk)


class Revisions(Call):
    scopes = {"GET": TUNES_READ, "POST": TUNES_WRITE}

    @extend_schema(tags=["charts"], summary="Revisions of a version, newest first", responses=REVISIONS(many=True))
    def get(self, request: Request, pk: int) -> Response:
        version = get_object_or_404(ChartVersion, pk=pk)
        return page_of(
            request,
            version.revisions.defer("text", "analysis"),
            REVISIONS,
            self,
            closed=bool(closed(request.user, [version.tune_id])),
        )

    @extend_schema(
        tags=["charts"], summary="Save the next revision", request=RevisionIn, responses={201: SavedRevisionSerializer}
    )
    def post(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        version = get_object_or_404(ChartVersion.objects.select_related("tune"), pk=pk)
        return _save(version.tune, version, request, self.valid(RevisionIn, request) | {"name": version.name})


def _save(tune: Tune, version: ChartVersion | None, request: Request, body: dict[str, Any]) -> Response:
    """What the editor does with a text: its form, its service, its words for what stayed behind."""
    refuse_held_chords(request.user, tune)
    recording = body["source_recording"]
    form = RevisionForm({**body, "source_recording": recording.pk if recording else None}, tune=tune, version=version)
    if not form.is_valid():
        raise ValidationError(form.errors)  # type: ignore[arg-type]
    try:
        revision = checks.save_and_check(
            tune=tune,
            version=version,
            text=body["text"],
            by=request.user,
            based_on=body["based_on"] if version else None,
            **form.cleaned_data,
        )
    except IntegrityError as error:
        raise Conflict(f"This tune has a version called “{body['name']}” already.") from error
    except ChartHasProblems as error:
        raise refuse(error.problems, body["text"]) from error
    except RevisionConflict as error:
        raise Conflict(
            f"Revision {error.latest.number} was saved meanwhile. Read it, then send yours again."
        ) from error
    return Response(SavedRevisionSerializer(revision).data, status=status.HTTP_201_CREATED)


class OneRevision(Call):
    scopes = {"GET": TUNES_READ}

    @extend_schema(
        tags=["charts"],
        summary="The text of one revision",
        responses=RevisionSerializer,
        description="Held back from players (403) while they take its changes down by ear.",
    )
    def get(self, request: Request, pk: int) -> Response:
        revision = get_object_or_404(ChartRevision.objects.select_related("version"), pk=pk)
        tune = revision.version.tune_id
        refuse_held_chords(request.user, tune)
        if unnamed_forms(request.user, [tune]):
            revision.text = text_without_form(revision.text)
        return Response(RevisionSerializer(revision).data)


class RevisionAnalysis(Call):
    scopes = {"GET": TUNES_READ}
    throttle_scope = "heavy"

    @extend_schema(
        tags=["charts"],
        summary="What every chord of a revision does, overrules included",
        parameters=[
            OpenApiParameter("key", str, description="Concert key to read it in, such as Ab: the mode stays"),
            OpenApiParameter("written_for", str, description="An instrument: written pitch instead of concert"),
        ],
        responses=AnalysisSerializer,
        description="Held back from players (403) while it is the key of a quiz they still have to answer.",
    )
    def get(self, request: Request, pk: int) -> Response:
        revision = get_object_or_404(selectors.revisions_for_study(), pk=pk)
        self.must_know_analysis(request, revision.version.tune_id)
        return Response(analysis_body(_for(study_chart(revision), request)))


def _for(study: StudyChart, request: Request) -> StudyChart:
    """The study in the key and for the instrument that the call asks for."""
    name, key = request.query_params.get("written_for", ""), request.query_params.get("key", "")[:20]
    if name and name not in INSTRUMENTS:
        raise Unreadable(f"There is no instrument “{name[:40]}”. Known: {', '.join(INSTRUMENTS)}.")
    try:
        study = study.transposed(Key.parse(read_key(key))) if key.strip() else study
    except FormProblem as error:
        raise Unreadable(error.messages[0]) from error
    return study.for_instrument(INSTRUMENTS[name]) if name else study
