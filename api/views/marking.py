"""Marks given to many sheets at once: an answer accepted for everyone, a step marked again with an overruled key."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.response import Response

from api.errors import Conflict, Unreadable
from api.listed import listed
from api.paging import page_of
from api.requests import Request
from api.scopes import TEACH
from api.serializers import marking as shapes
from api.views.base import Call
from api.views.review import words
from assessments.access import steps_led
from assessments.kinds import QUIZ
from assessments.models import AcceptedAnswer, Step
from assessments.selectors.accepted import Acceptance, acceptance, accepted_of
from assessments.selectors.old_keys import remarking
from assessments.services.accepted import accept_answer, take_back
from assessments.services.assign import Stale
from assessments.services.mark_again import mark_again

ACCEPTED = listed(shapes.AcceptedSerializer, "accepted_answer")


def asked_step(request: Request, pk: int) -> Step:
    step: Step = get_object_or_404(steps_led(request.user), pk=pk)
    if step.about.how != QUIZ:
        raise Conflict("This step asks no questions.")
    return step


class MarkAgain(Call):
    scopes = {"GET": TEACH, "POST": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Whose mark would change with the chart as it is overruled now",
        responses=shapes.RemarkingSerializer,
    )
    def get(self, request: Request, pk: int) -> Response:
        return Response(shapes.RemarkingSerializer(remarking(asked_step(request, pk))).data)

    @extend_schema(
        tags=["review"],
        summary="Mark a step again with the chart as it is overruled now; old marks stay on record",
        request=shapes.MarkAgainIn,
        responses=shapes.ChangedSerializer,
    )
    def post(self, request: Request, pk: int) -> Response:
        step, body = asked_step(request, pk), self.valid(shapes.MarkAgainIn, request)
        try:
            changed = mark_again(step=step, by=request.user, **body)
        except Stale as error:
            raise Conflict("Something has changed since you read this. Read it again, then send its stamp.") from error
        return Response(shapes.ChangedSerializer({"changed": changed}).data)


class Accepted(Call):
    scopes = {"GET": TEACH, "POST": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Whom accepting an answer for everyone who wrote it concerns, and where",
        parameters=[OpenApiParameter("question", str, required=True), OpenApiParameter("answer", str, required=True)],
        responses=shapes.AcceptanceSerializer,
    )
    def get(self, request: Request, pk: int) -> Response:
        found = _found(asked_step(request, pk), words(request, "question", 40), words(request, "answer", 400))
        return Response(shapes.AcceptanceSerializer(found).data)

    @extend_schema(
        tags=["review"],
        summary="Accept an answer for everyone of the ensemble who wrote it, or writes it later",
        request=shapes.AcceptIn,
        responses=shapes.ChangedSerializer,
    )
    def post(self, request: Request, pk: int) -> Response:
        step, body = asked_step(request, pk), self.valid(shapes.AcceptIn, request)
        _found(step, body["question"], body["answer"])
        changed = accept_answer(step=step, by=request.user, **body)
        return Response(shapes.ChangedSerializer({"changed": changed}).data)


class AcceptedList(Call):
    scopes = {"GET": TEACH}

    @extend_schema(
        tags=["review"],
        summary="What is accepted for everyone of a step, newest first",
        responses=ACCEPTED(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        return page_of(request, accepted_of(asked_step(request, pk)), ACCEPTED, self)


class AcceptedOne(Call):
    scopes = {"DELETE": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Take an accepted answer back; the marks that stood before come back",
        responses={200: shapes.ChangedSerializer},
    )
    def delete(self, request: Request, pk: int) -> Response:
        rows = AcceptedAnswer.objects.select_related("step__assignment").filter(step__in=steps_led(request.user))
        changed = take_back(accepted=get_object_or_404(rows, pk=pk), by=request.user)
        return Response(shapes.ChangedSerializer({"changed": changed}).data)


def _found(step: Step, question: Any, answer: Any) -> Acceptance:
    found = acceptance(step, question, answer)
    if found is None:
        raise Unreadable("This step asks no such question.")
    if not found.answer:
        raise Unreadable("Name the answer that is to be accepted; a blank is none.")
    return found
