"""The ledger: players by tunes, one player's own, what the programme asks for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import StreamingHttpResponse
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework.exceptions import NotFound, PermissionDenied, ValidationError
from rest_framework.response import Response

from api.listed import listed
from api.paging import Pages, page_of
from api.requests import Request
from api.scopes import LEDGER_READ, TEACH
from api.serializers import ledger as shapes
from api.views.base import Call, number
from assessments.access import players_led
from assessments.forms import RequirementRow, wanted
from assessments.kinds import KINDS
from assessments.selectors import ledger as read
from assessments.services.requirements import set_requirements
from studio.access import ensembles_led, is_director
from tunes.models import Tune

EVIDENCE = listed(shapes.EvidenceSerializer, "evidence")


class Ledger(Call):
    scopes = {"GET": LEDGER_READ}

    @extend_schema(
        tags=["ledger"],
        summary="Players by tunes for an ensemble you lead: a page of players",
        responses=shapes.LedgerRowSerializer(many=True),
        parameters=[OpenApiParameter("tune", int, description="Only this tune")],
    )
    def get(self, request: Request, pk: int) -> Response:
        ensemble = get_object_or_404(ensembles_led(request.user), pk=pk)
        tunes = list(narrowed(request, read.tunes_of(ensemble)))
        pages = Pages()
        players = pages.paginate_queryset(read.players_of(ensemble), request, view=self)
        rows = [
            {"player": row.player, "tunes": [cell_body(t, s) for t, s in row.cells]}
            for row in read.grid(players or [], tunes)
        ]
        return pages.get_paginated_response(shapes.LedgerRowSerializer(rows, many=True).data)


class LedgerCsv(Call):
    scopes = {"GET": LEDGER_READ}

    @extend_schema(
        tags=["ledger"], summary="The same as CSV", responses={(200, "text/csv"): OpenApiResponse(OpenApiTypes.STR)}
    )
    def get(self, request: Request, pk: int) -> StreamingHttpResponse:
        ensemble = get_object_or_404(ensembles_led(request.user), pk=pk)
        lines = read.csv_lines(ensemble, list(read.tunes_of(ensemble)))
        return StreamingHttpResponse(
            lines,
            content_type="text/csv; charset=utf-8",
            headers={"Content-Disposition": 'attachment; filename="ledger.csv"'},
        )


class Known(Call):
    scopes = {"GET": LEDGER_READ}

    @extend_schema(
        tags=["ledger"],
        summary="Which tunes does this whole ensemble know?",
        responses=shapes.KnownTuneSerializer(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        ensemble = get_object_or_404(ensembles_led(request.user), pk=pk)
        known = read.known_tunes(ensemble, list(read.tunes_of(ensemble)), read.known_by(ensemble))
        return page_of(request, known, shapes.KnownTuneSerializer, self)


class MyLedger(Call):
    scopes = {"GET": LEDGER_READ}

    @extend_schema(
        tags=["ledger"],
        summary="Your own tunes, on what evidence, and what is still missing",
        responses=shapes.OwnCellSerializer(many=True),
    )
    def get(self, request: Request) -> Response:
        pages = Pages()
        tunes = pages.paginate_queryset(read.player_tunes(request.user), request, view=self)
        rows = own_cells(request.user, tunes or [], for_player=True)
        return pages.get_paginated_response(shapes.OwnCellSerializer(rows, many=True).data)


class PlayerLedger(Call):
    scopes = {"GET": LEDGER_READ}

    @extend_schema(
        tags=["ledger"],
        summary="One player's tunes, for who leads an ensemble they play in",
        responses=shapes.OwnCellSerializer(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        player = get_object_or_404(players_led(request.user), pk=pk)
        pages = Pages()
        tunes = pages.paginate_queryset(read.player_tunes(player), request, view=self)
        rows = own_cells(player, tunes or [], for_player=False)
        return pages.get_paginated_response(shapes.OwnCellSerializer(rows, many=True).data)


class Requirements(Call):
    scopes = {"GET": LEDGER_READ, "PUT": TEACH}

    @extend_schema(
        tags=["ledger"],
        summary="What the programme asks for before a tune counts as learned",
        responses=shapes.RequirementsSerializer,
    )
    def get(self, request: Request) -> Response:
        return Response(shapes.RequirementsSerializer({"requirements": read.requirements()}).data)

    @extend_schema(
        tags=["ledger"],
        summary="Set that, for the whole programme: the director only",
        request=shapes.RequirementsSerializer,
        responses=shapes.RequirementsSerializer,
        description="Replaces all of it; a sign-off is always asked for.",
    )
    def put(self, request: Request) -> Response:
        if not is_director(request.user):
            raise PermissionDenied("Only the director sets what the programme asks for.")
        asked = {row["kind"]: row for row in self.valid(shapes.RequirementsSerializer, request)["requirements"]}
        rows = [
            RequirementRow(
                {f"{kind}-{name}": value for name, value in (asked.get(kind, {}) | {"on": kind in asked}).items()},
                kind=kind,
                prefix=kind,
            )
            for kind in KINDS
        ]
        if wrong := {row.kind.id: row.errors for row in rows if not row.is_valid()}:
            raise ValidationError(wrong)  # type: ignore[arg-type]
        set_requirements(rows=wanted(rows))
        return self.get(request)


class EvidenceRows(Call):
    scopes = {"GET": LEDGER_READ}

    @extend_schema(
        tags=["ledger"],
        summary="Everything on record about one player and one tune",
        responses=EVIDENCE(many=True),
        parameters=[OpenApiParameter("tune", int, required=True)],
    )
    def get(self, request: Request, pk: int) -> Response:
        player = get_object_or_404(players_led(request.user), pk=pk)
        tune = get_object_or_404(Tune, pk=number(request, "tune") or 0)
        return page_of(request, read.evidence_of(player, tune), EVIDENCE, self)


def narrowed(request: Request, tunes: Any) -> Any:
    wanted = number(request, "tune")
    rows = tunes if wanted is None else tunes.filter(pk=wanted)
    if wanted is not None and not rows.exists():
        raise NotFound("This ensemble has nothing on record for that tune.")
    return rows


def cell_body(tune: Tune, standing: Any) -> dict[str, Any]:
    return {
        "tune": tune.pk,
        "tune_title": tune.title,
        "learned": standing.learned,
        "learned_on": standing.learned_on,
        "signed_by": standing.signed_by,
        "signed_on": standing.signed_on,
        "evidence": standing.signed_for,
        "missing": list(standing.missing),
        "unasked": list(standing.unasked),
        "steps": standing.steps,
    }


def own_cells(player: Any, tunes: Sequence[Tune], *, for_player: bool) -> list[dict[str, Any]]:
    """One player's standings with the facts behind them and what they did on their own. A fixed number of queries."""
    work = read.own_work(player, tunes)
    return [
        cell_body(tune, found) | {"work": list(work.get(tune.pk, ()))}
        for tune, found in read.own_page(player, tunes, for_player=for_player)
    ]
