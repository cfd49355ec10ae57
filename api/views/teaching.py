"""Reviewing, signing off, and the ledger."""
from __future__ import annotations

from typing import Any

from django.http import StreamingHttpResponse
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework import status
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response

from api.attempts import attempt_body
from api.errors import Conflict, Unreadable
from api.paging import Pages, page_of
from api.scopes import LEDGER_READ, TEACH
from api.serializers import work as shapes
from api.views.base import Call, number
from assessments.access import attempt_to_review, players_led, sign_offs_led, steps_led
from assessments.kinds import IN_PERSON
from assessments.models import Mark
from assessments.selectors import ledger as read
from assessments.services import review, sign_off
from studio.access import ensembles_led
from tunes.models import Tune

STALE = "Somebody else changed this sheet. Read it again, then send yours."
DECISIONS = {"accept": review.accept, "return": review.return_for_another_go, "reopen": review.reopen,
             "count": review.count, "uncount": review.uncount}


class Comments(Call):
    scopes = {"POST": TEACH}

    @extend_schema(tags=["review"], summary="Comment on an attempt, a bar of it, or a time in its recording",
                   request=shapes.CommentIn, responses={201: shapes.CommentSerializer})
    def post(self, request: Request, pk: int) -> Response:
        attempt, body = attempt_to_review(request.user, pk), self.valid(shapes.CommentIn, request)
        row = review.comment(attempt=attempt, by=request.user, **body)  # type: ignore[arg-type]
        return Response(shapes.CommentSerializer(row).data, status=status.HTTP_201_CREATED)


class Overrides(Call):
    scopes = {"POST": TEACH}

    @extend_schema(tags=["review"], summary="Set another mark beside the computed one, with a reason",
                   request=shapes.OverrideIn, responses={201: shapes.OneAttemptSerializer})
    def post(self, request: Request, pk: int) -> Response:
        attempt, body = attempt_to_review(request.user, pk), self.valid(shapes.OverrideIn, request)
        if not Mark.objects.filter(attempt=attempt, question=body["question"]).exists():
            raise Unreadable("This sheet has no such question.")
        try:
            review.override(attempt_id=attempt.pk, by=request.user, **body)  # type: ignore[arg-type]
        except review.Stale as error:
            raise Conflict(STALE) from error
        return Response(attempt_body(request.user, pk), status=status.HTTP_201_CREATED)


class Decision(Call):
    scopes = {"POST": TEACH}

    @extend_schema(tags=["review"], summary="Accept, return for another go, or undo either", request=shapes.DecisionIn,
                   responses=shapes.OneAttemptSerializer)
    def post(self, request: Request, pk: int) -> Response:
        attempt, body = attempt_to_review(request.user, pk), self.valid(shapes.DecisionIn, request)
        try:
            DECISIONS[body["decision"]](attempt_id=attempt.pk, by=request.user, version=body["version"])  # type: ignore[arg-type]
        except review.Stale as error:
            raise Conflict(STALE) from error
        return Response(attempt_body(request.user, pk))


class SignOffs(Call):
    scopes = {"GET": TEACH, "POST": TEACH}

    @extend_schema(tags=["review"], summary="Sign-offs for the tune of this step",
                   responses=shapes.SignOffSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        step = get_object_or_404(steps_led(request.user), pk=pk)
        rows = sign_offs_led(request.user).filter(tune=step.assignment.tune_id, ensemble=step.assignment.ensemble_id)
        return page_of(request, rows.select_related("by", "player"), shapes.SignOffSerializer, self)

    @extend_schema(tags=["review"], summary="Sign players off, in person", request=shapes.SignOffIn,
                   responses={201: shapes.SignOffSerializer(many=True)})
    def post(self, request: Request, pk: int) -> Response:
        step = get_object_or_404(steps_led(request.user), pk=pk)
        if step.about.how != IN_PERSON:
            raise Conflict("This step is not signed off in person.")
        body = self.valid(shapes.SignOffIn, request)
        allowed = set(read.players_of(step.assignment.ensemble).values_list("pk", flat=True))
        if not {p.pk for p in body["players"]} <= allowed:
            raise Unreadable("Only players of this ensemble can be signed off here.")
        try:
            rows = sign_off.sign_off(step=step, by=request.user, **body)  # type: ignore[arg-type]
        except sign_off.NotOneself as error:
            raise Unreadable(str(error)) from error
        return Response(shapes.SignOffSerializer(rows, many=True).data, status=status.HTTP_201_CREATED)


class OneSignOff(Call):
    scopes = {"DELETE": TEACH}

    @extend_schema(tags=["review"], summary="Take a sign-off back; it stays on record", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        row = get_object_or_404(sign_offs_led(request.user), pk=pk)
        try:
            sign_off.take_back(sign_off_id=row.pk, by=request.user)  # type: ignore[arg-type]
        except sign_off.NotOneself as error:
            raise Conflict(str(error)) from error
        return Response(status=status.HTTP_204_NO_CONTENT)


class Ledger(Call):
    scopes = {"GET": LEDGER_READ}

    @extend_schema(tags=["ledger"], summary="Players by tunes for an ensemble you lead: a page of players",
                   responses=shapes.LedgerRowSerializer(many=True),
                   parameters=[OpenApiParameter("tune", int, description="Only this tune")])
    def get(self, request: Request, pk: int) -> Response:
        ensemble = get_object_or_404(ensembles_led(request.user), pk=pk)
        tunes = list(narrowed(request, read.tunes_of(ensemble)))
        pages = Pages()
        players = pages.paginate_queryset(read.players_of(ensemble), request, view=self)
        rows = [{"player": row.player, "tunes": [cell_body(t, s) for t, s in row.cells]}
                for row in read.grid(players or [], tunes)]
        return pages.get_paginated_response(shapes.LedgerRowSerializer(rows, many=True).data)


class LedgerCsv(Call):
    scopes = {"GET": LEDGER_READ}

    @extend_schema(tags=["ledger"], summary="The same as CSV",
                   responses={(200, "text/csv"): OpenApiResponse(OpenApiTypes.STR)})
    def get(self, request: Request, pk: int) -> StreamingHttpResponse:
        ensemble = get_object_or_404(ensembles_led(request.user), pk=pk)
        lines = read.csv_lines(ensemble, list(read.tunes_of(ensemble)))
        return StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8",
                                     headers={"Content-Disposition": 'attachment; filename="ledger.csv"'})


class Known(Call):
    scopes = {"GET": LEDGER_READ}

    @extend_schema(tags=["ledger"], summary="Which tunes does this whole ensemble know?",
                   responses=shapes.KnownTuneSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        ensemble = get_object_or_404(ensembles_led(request.user), pk=pk)
        known = read.known_tunes(ensemble, list(read.tunes_of(ensemble)), read.known_by(ensemble))
        return page_of(request, known, shapes.KnownTuneSerializer, self)


class MyLedger(Call):
    scopes = {"GET": LEDGER_READ}

    @extend_schema(tags=["ledger"], summary="Your own tunes and what is still missing",
                   responses=shapes.LedgerCellSerializer(many=True))
    def get(self, request: Request) -> Response:
        pages = Pages()
        tunes = pages.paginate_queryset(read.player_tunes(request.user), request, view=self)  # type: ignore[arg-type]
        rows = read.own_page(request.user, tunes or [], for_player=True)  # type: ignore[arg-type]
        return pages.get_paginated_response(
            shapes.LedgerCellSerializer([cell_body(t, s) for t, s in rows], many=True).data)


class EvidenceRows(Call):
    scopes = {"GET": LEDGER_READ}

    @extend_schema(tags=["ledger"], summary="Everything on record about one player and one tune",
                   responses=shapes.EvidenceSerializer(many=True),
                   parameters=[OpenApiParameter("tune", int, required=True)])
    def get(self, request: Request, pk: int) -> Response:
        player = get_object_or_404(players_led(request.user), pk=pk)
        tune = get_object_or_404(Tune, pk=number(request, "tune") or 0)
        return page_of(request, read.evidence_of(player, tune), shapes.EvidenceSerializer, self)


def narrowed(request: Request, tunes: Any) -> Any:
    wanted = number(request, "tune")
    rows = tunes if wanted is None else tunes.filter(pk=wanted)
    if wanted is not None and not rows.exists():
        raise NotFound("This ensemble has nothing on record for that tune.")
    return rows


def cell_body(tune: Tune, standing: Any) -> dict[str, Any]:
    return {
        "tune": tune.pk, "tune_title": tune.title, "learned": standing.learned, "learned_on": standing.learned_on,
        "signed_by": standing.signed_by, "signed_on": standing.signed_on, "evidence": standing.signed_for,
        "missing": list(standing.missing), "steps": standing.steps,
    }
