"""The class's vocabulary: lines cut from solos, one of them, everywhere it can stand."""

from __future__ import annotations

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from api.paging import page_of
from api.scopes import TUNES_READ
from api.serializers import lines as shapes
from api.views.base import Call
from drills import kept_lines, line_search
from tunes import selectors as repertoire

ASKED = ("q", "functions", "degrees", "contour", "played")


class Lines(Call):
    scopes = {"GET": TUNES_READ}

    @extend_schema(
        tags=["tunes"],
        summary="Lines of the solos that you may see, the newest first; narrowed as on the page",
        parameters=[OpenApiParameter(name, str) for name in ASKED],
        responses=shapes.LineSerializer(many=True),
    )
    def get(self, request: Request) -> Response:
        rows, _near = line_search.found(kept_lines.lines_seen(request.user), line_search.read(request.query_params))
        return page_of(request, rows, shapes.LineSerializer, self)


class OneLine(Call):
    scopes = {"GET": TUNES_READ}

    @extend_schema(tags=["tunes"], summary="One line", responses=shapes.LineSerializer)
    def get(self, request: Request, pk: int) -> Response:
        return Response(shapes.LineSerializer(kept_lines.line_or_404(request.user, pk)[0]).data)


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

    def __init__(self, found: kept_lines.Places[int]) -> None:
        self.found = found

    def __len__(self) -> int:
        return len(self.found)

    def __getitem__(self, part: slice) -> list[kept_lines.Standing]:
        return kept_lines.described(self.found[part])
