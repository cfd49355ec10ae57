"""Takes: kept, listed, heard, deleted; comments at a bar and the player's answer."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponseBase
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.exceptions import PermissionDenied
from rest_framework.parsers import MultiPartParser
from rest_framework.response import Response

from api.errors import Busy, Conflict, Unreadable
from api.listed import listed
from api.paging import page_of
from api.requests import Request
from api.scopes import TEACH, WORK_READ, WORK_WRITE
from api.serializers import takes as shapes
from api.views.base import Call, number
from api.views.repertoire import by_form
from drills.takes import services
from drills.takes.access import comment_or_404, may_comment, take_or_404, takes_heard
from drills.takes.forms import SpotForm, TakeForm
from drills.takes.gate import AGAIN, GATE, Full
from drills.takes.making import plan_named
from drills.takes.models import Take
from drills.takes.plans import NothingToRecord
from drills.takes.played import Spot
from drills.takes.views import send_sound

TAKES = listed(shapes.TakeSerializer, "own_take")
TAKE_WORDS = listed(shapes.TakeCommentSerializer, "own_take_word")


class Takes(Call):
    scopes = {"GET": WORK_READ, "POST": WORK_WRITE}
    parser_classes = (MultiPartParser,)

    @extend_schema(
        tags=["work"],
        summary="Takes that you may hear: your own, and those given to ensembles you lead",
        parameters=[OpenApiParameter("player", int), OpenApiParameter("ensemble", int)],
        responses=TAKES(many=True),
    )
    def get(self, request: Request) -> Response:
        rows = takes_heard(request.user).defer("peaks").order_by("-made", "-pk")
        for name in ("player", "ensemble"):
            if (value := number(request, name)) is not None:
                rows = rows.filter(**{name: value})
        return page_of(request, rows, TAKES, self)

    @extend_schema(
        tags=["work"],
        summary="Keep a take of yours",
        request=shapes.TakeIn,
        responses={200: shapes.TakeSerializer, 201: shapes.TakeSerializer},
        description="The same token again is the same take (200). When an ensemble sends together, some are told to come again: 429 with Retry-After.",
    )
    def post(self, request: Request) -> Response:
        body = self.valid(shapes.TakeIn, request)
        before = services.kept_before(player=request.user, token=body["token"])
        if before is not None:
            return Response(shapes.TakeSerializer(before).data)
        try:
            with GATE.entered():
                take = self.taken(request, body)
        except Full as full:
            raise Busy("Many takes are coming in just now. Send it again in a moment.", AGAIN) from full
        return Response(shapes.TakeSerializer(take).data, status=status.HTTP_201_CREATED)

    def taken(self, request: Request, body: dict[str, Any]) -> Take:
        """Look at a take that is new here, and keep it."""
        form = TakeForm(body, {"file": body["file"]})  # type: ignore[arg-type]
        data = by_form(form)
        try:
            plan = plan_named(
                request.user, kind=data["kind"], revision=data["revision"], line=data["line"], query=data["query"],
                tempo=data["tempo"],
            )  # fmt: skip
        except NothingToRecord as problem:
            raise Unreadable(str(problem)) from problem
        return services.keep_take(
            player=request.user, plan=plan, heard=form.heard, about=form.about, token=data["token"]
        )


class OneTake(Call):
    scopes = {"GET": WORK_READ, "DELETE": WORK_WRITE}

    @extend_schema(tags=["work"], summary="One take", responses=shapes.TakeSerializer)
    def get(self, request: Request, pk: int) -> Response:
        return Response(shapes.TakeSerializer(take_or_404(request.user, pk)).data)

    @extend_schema(
        tags=["work"],
        summary="Delete the sound of a take of yours; words about one that was handed in stay",
        responses={204: None},
    )
    def delete(self, request: Request, pk: int) -> Response:
        take = take_or_404(request.user, pk)
        if take.player_id != request.user.pk:
            raise PermissionDenied("Only the player deletes a take.")
        services.remove(take=take)
        return Response(status=status.HTTP_204_NO_CONTENT)


class TakeSound(Call):
    scopes = {"GET": WORK_READ}

    @extend_schema(
        tags=["work"],
        summary="The sound of a take",
        responses={(200, "audio/*"): OpenApiTypes.BINARY, (206, "audio/*"): OpenApiTypes.BINARY, 304: None, 412: None, 416: None},
        description="Parts by Range (RFC 9110, section 14).",
    )  # fmt: skip
    def get(self, request: Request, pk: int) -> HttpResponseBase:
        return send_sound(request, take_or_404(request.user, pk))


class TakeComments(Call):
    scopes = {"GET": WORK_READ, "POST": TEACH}

    @extend_schema(tags=["work"], summary="What was said about a take, by bar", responses=TAKE_WORDS(many=True))
    def get(self, request: Request, pk: int) -> Response:
        rows = take_or_404(request.user, pk).comments.select_related("by", "take")
        return page_of(request, rows, TAKE_WORDS, self)

    @extend_schema(
        tags=["work"],
        summary="Say something at a bar and beat of a take, as who leads its ensemble",
        request=shapes.TakeCommentIn,
        responses={201: shapes.TakeCommentSerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        take = take_or_404(request.user, pk)
        if not may_comment(request.user, take):
            raise PermissionDenied("Who leads the ensemble comments on its takes.")
        data = by_form(SpotForm(self.valid(shapes.TakeCommentIn, request), take=take))
        row = services.comment(
            take=take, by=request.user, spot=Spot(data["chorus"], data["bar"], data["beat"]),
            token=data["token"], text=data["text"],
        )  # fmt: skip
        return Response(shapes.TakeCommentSerializer(row).data, status=status.HTTP_201_CREATED)


class TakeAnswer(Call):
    scopes = {"PUT": WORK_WRITE}

    @extend_schema(
        tags=["work"],
        summary="Answer a comment on a take of yours, once",
        request=shapes.TakeAnswerIn,
        responses=shapes.TakeCommentSerializer,
    )
    def put(self, request: Request, pk: int) -> Response:
        row = comment_or_404(request.user, pk)
        if row.take.player_id != request.user.pk:
            raise PermissionDenied("The player answers.")
        try:
            services.answer(comment=row, text=self.valid(shapes.TakeAnswerIn, request)["answer"])
        except services.AlreadyAnswered as error:
            raise Conflict("You have answered this comment already.") from error
        row.refresh_from_db()
        return Response(shapes.TakeCommentSerializer(row).data)


class OneTakeComment(Call):
    scopes = {"DELETE": TEACH}

    @extend_schema(tags=["work"], summary="Take back a comment of yours on a take", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        row = comment_or_404(request.user, pk)
        if row.by_id != request.user.pk:
            raise PermissionDenied("Who wrote a comment takes it back.")
        services.take_back(comment=row)
        return Response(status=status.HTTP_204_NO_CONTENT)
