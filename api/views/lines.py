"""The class's vocabulary: lines cut from solos, one of them, everywhere it can stand."""

from __future__ import annotations

import uuid

from django.core.exceptions import PermissionDenied
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.response import Response

from api.errors import Conflict, Unreadable
from api.listed import listed
from api.paging import page_of
from api.requests import Request
from api.scopes import TEACH, TUNES_READ, WORK_READ, WORK_WRITE
from api.serializers import lines as shapes
from api.views.base import Call
from drills import kept_lines, line_keys, line_search
from drills.models import KeptLine, LineKey
from drills.services import line_keys as keys
from drills.services import lines as write
from drills.vocabulary import NothingToCut
from drills.vocabulary.places import Places
from studio.access import leads
from tunes import selectors as repertoire
from tunes.solos.access import seen_or_404

LINES = listed(shapes.LineSerializer, "line")
LINE_KEYS = listed(shapes.LineKeySerializer, "own_line_key")

ASKED = ("q", "functions", "degrees", "contour", "played")


class Lines(Call):
    scopes = {"GET": TUNES_READ}

    @extend_schema(
        tags=["tunes"],
        summary="Lines of the solos that you may see, the newest first; narrowed as on the page",
        parameters=[OpenApiParameter(name, str) for name in ASKED],
        responses=LINES(many=True),
    )
    def get(self, request: Request) -> Response:
        rows, _near = line_search.found(kept_lines.lines_seen(request.user), line_search.read(request.query_params))
        return page_of(request, rows, LINES, self)


class SoloLines(Call):
    scopes = {"POST": WORK_WRITE}

    @extend_schema(
        tags=["tunes"],
        summary="Cut a line from the newest notes of a solo; cut twice, it is the same one",
        request=shapes.LineIn,
        responses={201: shapes.LineSerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        solo = seen_or_404(request.user, pk)
        if solo.reading_held:  # type: ignore[attr-defined]
            raise PermissionDenied(solo.reading_held)  # type: ignore[attr-defined]
        body = self.valid(shapes.LineIn, request)
        if why_not := kept_lines.not_yet_cut(request.user, solo):
            raise Conflict(why_not)
        try:
            row = write.keep_line(solo=solo, by=request.user, **body)
        except NothingToCut as problem:
            raise Unreadable(f"That cannot be cut: {problem}.") from problem
        return Response(shapes.LineSerializer(row).data, status=status.HTTP_201_CREATED)


class OneLine(Call):
    scopes = {"GET": TUNES_READ, "PATCH": WORK_WRITE, "DELETE": WORK_WRITE}

    @extend_schema(tags=["tunes"], summary="One line", responses=shapes.LineSerializer)
    def get(self, request: Request, pk: int) -> Response:
        return Response(shapes.LineSerializer(kept_lines.line_or_404(request.user, pk)[0]).data)

    @extend_schema(
        tags=["tunes"],
        summary="Say what the class calls a line; empty: nothing",
        request=shapes.LineNameIn,
        responses=shapes.LineSerializer,
    )
    def patch(self, request: Request, pk: int) -> Response:
        row = self._mine(request, pk)
        write.name_line(row=row, name=self.valid(shapes.LineNameIn, request)["name"])
        row.refresh_from_db(fields=["name"])
        return Response(shapes.LineSerializer(row).data)

    @extend_schema(tags=["tunes"], summary="Throw a line away; one that others practise stays", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        try:
            write.remove_line(row=self._mine(request, pk), by=request.user)
        except write.StillPractised as problem:
            raise Conflict(f"{problem}.") from problem
        return Response(status=status.HTTP_204_NO_CONTENT)

    @staticmethod
    def _mine(request: Request, pk: int) -> KeptLine:
        row, _held = kept_lines.line_or_404(request.user, pk)
        if not kept_lines.may_name(request.user, row):
            raise PermissionDenied("Who cut a line, who wrote its solo and who leads the ensemble name it.")
        return row


class LineKeys(Call):
    scopes = {"GET": WORK_READ, "POST": WORK_WRITE}

    @extend_schema(
        tags=["work"],
        summary="Keys in which you have practised a line, or were heard",
        responses=LINE_KEYS(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        row, _held = kept_lines.line_or_404(request.user, pk)
        rows = LineKey.objects.filter(line=row, user=request.user).select_related("heard_by").order_by("tonic")
        return page_of(request, rows, LINE_KEYS, self)

    @extend_schema(
        tags=["work"],
        summary="Log how a line went in one key; says when that key comes back",
        request=shapes.LinePractisedIn,
        responses={201: shapes.LineKeySerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        row, _held = kept_lines.line_or_404(request.user, pk)
        body = self.valid(shapes.LinePractisedIn, request)
        token = str(body.pop("token") or uuid.uuid4())
        item = keys.record(user=request.user, line=row, token=token, **body)
        return Response(shapes.LineKeySerializer(item).data, status=status.HTTP_201_CREATED)


class LineHeard(Call):
    scopes = {"POST": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Say that you heard a player of your ensemble play a line in a key",
        request=shapes.LineHeardIn,
        responses={201: shapes.LineKeySerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        row, _held = kept_lines.line_or_404(request.user, pk)
        if not (row.solo.shared_with_id and leads(request.user, row.solo.shared_with_id)):
            raise PermissionDenied("Who leads the ensemble says what was heard.")
        body = self.valid(shapes.LineHeardIn, request)
        player = line_keys.players_of(row).filter(pk=body["player"]).first()
        if player is None:
            raise Unreadable("Only players of this ensemble can be heard here.")
        item, _key = keys.heard(player=player, line=row, tonic=body["tonic"], tempo=body["tempo"], by=request.user)
        return Response(shapes.LineKeySerializer(item).data, status=status.HTTP_201_CREATED)


class LinePlaces(Call):
    scopes = {"GET": TUNES_READ}

    @extend_schema(
        tags=["tunes"],
        summary="Where a line can stand in the agreed charts: the places where it fits first, then why it does not fit elsewhere",
        responses=shapes.LinePlaceSerializer(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        agreed = repertoire.agreed_stamps()
        row, held = kept_lines.line_or_404(request.user, pk, set(agreed[1].values()))
        found = kept_lines.SHELF.find(kept_lines.line_of(row), held, agreed)
        return page_of(request, Described(found), shapes.LinePlaceSerializer, self)


class Described:
    """Places of a line, described page by page."""

    def __init__(self, found: Places[int]) -> None:
        self.found = found

    def __len__(self) -> int:
        return len(self.found)

    def __getitem__(self, part: slice) -> list[kept_lines.Standing]:
        return kept_lines.described(self.found[part])
