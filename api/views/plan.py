"""The plan of an ensemble's repertoire: which tunes, in which order, known by when, how far the players are from each."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.response import Response

from api.errors import Conflict
from api.listed import listed
from api.paging import page_of
from api.requests import Request
from api.scopes import LEDGER_READ, TEACH
from api.serializers import ledger as shapes
from api.views.base import Call
from assessments.access import planned_led
from assessments.selectors import plan as read
from assessments.services import plan as write
from studio.access import ensembles_led
from studio.models import Ensemble

PLANNED = listed(shapes.PlannedSerializer, "planned_tune")

SHOW = OpenApiParameter(
    "show",
    str,
    enum=["steps", "progressions"],
    description="What stands beside each tune: the steps "
    "that are undone (the default), or the progressions it shares with what they know",
)


class Plan(Call):
    scopes = {"GET": LEDGER_READ, "POST": TEACH}

    @extend_schema(
        tags=["ledger"],
        summary="The plan of an ensemble you lead, in its order",
        parameters=[SHOW],
        responses=PLANNED(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        ensemble = get_object_or_404(ensembles_led(request.user), pk=pk)
        return page_of(request, plan_rows(ensemble, request.query_params.get("show", "")), PLANNED, self)

    @extend_schema(
        tags=["ledger"],
        summary="Put a tune at the end of the plan",
        request=shapes.PlannedIn,
        responses={201: shapes.PlannedSerializer},
        description="A tune that is planned already keeps its place and gets the new day.",
    )
    def post(self, request: Request, pk: int) -> Response:
        ensemble = get_object_or_404(ensembles_led(request.user), pk=pk)
        body = self.valid(shapes.PlannedIn, request)
        try:
            row = write.plan_tune(ensemble=ensemble, by=request.user, **body)
        except write.PlanFull as full:
            raise Conflict(str(full)) from full
        return Response(one_row(ensemble, row.pk), status=status.HTTP_201_CREATED)


class OnePlanned(Call):
    scopes = {"PATCH": TEACH, "DELETE": TEACH}

    @extend_schema(
        tags=["ledger"],
        summary="Give a planned tune another day or another place",
        request=shapes.PlannedChange,
        responses=shapes.PlannedSerializer,
    )
    def patch(self, request: Request, pk: int) -> Response:
        row = get_object_or_404(planned_led(request.user), pk=pk)
        body = self.valid(shapes.PlannedChange, request)
        if "known_by" in body:
            write.set_day(row=row, known_by=body["known_by"])
        if "place" in body:
            write.move_to(row=row, place=body["place"])
        return Response(one_row(row.ensemble, pk))

    @extend_schema(
        tags=["ledger"],
        summary="Take a tune out of the plan; what was done on it stays in the ledger",
        responses={204: None},
    )
    def delete(self, request: Request, pk: int) -> Response:
        write.take_out(row=get_object_or_404(planned_led(request.user), pk=pk))
        return Response(status=status.HTTP_204_NO_CONTENT)


def plan_rows(ensemble: Ensemble, show: str) -> list[dict[str, Any]]:
    """The whole plan (it has an end, `write.MOST`) as bodies. A fixed number of queries."""
    rows, players = read.planned(ensemble), read.players_for(ensemble)
    counts = read.known_counts(players)
    found = (
        read.with_progressions(rows, counts, read.known_by_all(counts, players))
        if show == "progressions"
        else read.with_steps(rows, players, counts, ensemble)
    )
    shared = {"players": len(players), "counted": players.of.pk}
    names = ("planned", "known", "overdue", "assignment", "needs", "shared", "has_chart")
    return [
        {name: getattr(row, name) for name in names} | shared | {"place": place} for place, row in enumerate(found, 1)
    ]


def one_row(ensemble: Ensemble, pk: int) -> dict[str, Any]:
    """The body of one planned tune."""
    row = next(row for row in plan_rows(ensemble, "") if row["planned"].pk == pk)
    return dict(shapes.PlannedSerializer(row).data)
