"""What an instructor hears otherwise than the engine: labels and key areas, set, withdrawn, restored."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.response import Response

from api.errors import Unreadable
from api.listed import listed
from api.paging import page_of
from api.requests import Request
from api.scopes import TUNES_READ, TUNES_WRITE
from api.serializers.tunes import AreaOverruleIn, AreaOverruleOut, OverruleIn, OverruleOut
from api.views.base import Call
from tunes import selectors
from tunes.harmony.pitch.spelling import Key
from tunes.heard import NotThisChord, read_function
from tunes.models import AreaOverride, ChartRevision, LabelOverride
from tunes.services import overrules as services
from tunes.study import study_chart

OVERRULES = listed(OverruleOut, "overrule")
KEY_AREAS = listed(AreaOverruleOut, "key_area")

WITHDRAWN = OpenApiParameter("withdrawn", str, enum=["yes"], description="Those that were taken back instead")


class Overrules(Call):
    scopes = {"GET": TUNES_READ, "POST": TUNES_WRITE}

    @extend_schema(
        tags=["charts"],
        summary="Labels that an instructor hears otherwise",
        parameters=[WITHDRAWN],
        responses=OVERRULES(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        revision = get_object_or_404(ChartRevision.objects.select_related("version"), pk=pk)
        self.must_know_analysis(request, revision.version.tune_id)
        rows = revision.label_overrides.all()
        return page_of(request, _standing_or_not(rows, request), OVERRULES, self)

    @extend_schema(
        tags=["charts"],
        summary="Overrule the label of one chord",
        request=OverruleIn,
        responses={201: OverruleOut},
        description="The computed reading stays beside it; quizzes issued from now on use yours.",
    )
    def post(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        study = study_chart(revision := get_object_or_404(selectors.revisions_for_study(), pk=pk))
        self.must_know_analysis(request, revision.version.tune_id)
        body = self.valid(OverruleIn, request)
        event = _event(study, body["event"])
        try:
            key, function = read_function(
                body["answer"], Key.parse(body["key"]), study.events[event].symbol, study.computed.readings[event]
            )
        except NotThisChord as error:
            raise Unreadable(str(error)) from error
        row = services.overrule(
            revision=revision,
            event=event,
            key=key,
            function=function,
            why=body["why"],
            by=request.user,
            every_time=body["every_time"],
        )
        return Response(OverruleOut(row).data, status=status.HTTP_201_CREATED)


class OneOverrule(Call):
    scopes = {"DELETE": TUNES_WRITE}

    @extend_schema(tags=["charts"], summary="Withdraw an overrule; it stays on record", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        services.withdraw_overrule(row=get_object_or_404(LabelOverride, pk=pk), by=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


class RestoreOverrule(Call):
    scopes = {"POST": TUNES_WRITE}

    @extend_schema(tags=["charts"], summary="Let a withdrawn overrule stand again", request=None, responses=OverruleOut)
    def post(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        row = get_object_or_404(LabelOverride.objects.select_related("by", "revision__version"), pk=pk)
        self.must_know_analysis(request, row.revision.version.tune_id)
        services.restore_overrule(row=row, by=request.user)
        row.refresh_from_db(fields=["withdrawn"])
        return Response(OverruleOut(row).data)


class AreaOverrules(Call):
    scopes = {"GET": TUNES_READ, "POST": TUNES_WRITE}

    @extend_schema(
        tags=["charts"],
        summary="Key areas that an instructor hears otherwise",
        parameters=[WITHDRAWN],
        responses=KEY_AREAS(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        revision = get_object_or_404(ChartRevision.objects.select_related("version"), pk=pk)
        self.must_know_analysis(request, revision.version.tune_id)
        rows = revision.area_overrides.all()
        return page_of(request, _standing_or_not(rows, request), KEY_AREAS, self)

    @extend_schema(
        tags=["charts"],
        summary="Set the key of a run of chords",
        request=AreaOverruleIn,
        responses={201: AreaOverruleOut},
    )
    def post(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        study = study_chart(revision := get_object_or_404(selectors.revisions_for_study(), pk=pk))
        self.must_know_analysis(request, revision.version.tune_id)
        body = self.valid(AreaOverruleIn, request)
        first, last = _event(study, body["first"]), _event(study, body["last"])
        if first > last:
            raise Unreadable("A key area ends where it starts or later.")
        row = services.overrule_area(
            revision=revision,
            first=first,
            last=last,
            key=Key.parse(body["key"]),
            why=body["why"],
            by=request.user,
            every_time=body["every_time"],
        )
        return Response(AreaOverruleOut(row).data, status=status.HTTP_201_CREATED)


class OneAreaOverrule(Call):
    scopes = {"DELETE": TUNES_WRITE}

    @extend_schema(tags=["charts"], summary="Withdraw a key area; it stays on record", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        services.withdraw_overrule(row=get_object_or_404(AreaOverride, pk=pk), by=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


class RestoreAreaOverrule(Call):
    scopes = {"POST": TUNES_WRITE}

    @extend_schema(
        tags=["charts"], summary="Let a withdrawn key area stand again", request=None, responses=AreaOverruleOut
    )
    def post(self, request: Request, pk: int) -> Response:
        self.must_edit_repertoire(request)
        row = get_object_or_404(AreaOverride.objects.select_related("by", "revision__version"), pk=pk)
        self.must_know_analysis(request, row.revision.version.tune_id)
        services.restore_overrule(row=row, by=request.user)
        row.refresh_from_db(fields=["withdrawn"])
        return Response(AreaOverruleOut(row).data)


def _standing_or_not(rows: Any, request: Request) -> Any:
    """The overrules that stand, or with `?withdrawn=yes` those that were taken back, the newest first."""
    if request.query_params.get("withdrawn") == "yes":
        return rows.exclude(withdrawn=None).select_related("by").order_by("-withdrawn", "-pk")
    return rows.filter(withdrawn=None).select_related("by").order_by("pk")


def _event(study: Any, event: int) -> int:
    if event >= len(study.events):
        raise Unreadable(f"This chart has {len(study.events)} chords, numbered from 0.")
    return event
