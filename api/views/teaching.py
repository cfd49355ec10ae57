"""Reviewing, signing off, and the ledger."""

from __future__ import annotations

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.response import Response

from api.attempts import attempt_body
from api.errors import Conflict, Unreadable
from api.listed import listed
from api.paging import page_of
from api.requests import Request
from api.scopes import TEACH
from api.serializers import work as shapes
from api.views.base import Call
from assessments.access import attempt_to_review, sign_offs_led, steps_led
from assessments.kinds import IN_PERSON
from assessments.models import Attempt, Mark
from assessments.selectors import ledger as read
from assessments.selectors.quiz import bars_of_step
from assessments.selectors.solos import note_named
from assessments.services import review, sign_off

SIGN_OFFS = listed(shapes.SignOffSerializer, "sign_off")

STALE = "Somebody else changed this sheet. Read it again, then send yours."
DECISIONS = {
    "accept": review.accept,
    "return": review.return_for_another_go,
    "reopen": review.reopen,
    "count": review.count,
    "uncount": review.uncount,
}


class Comments(Call):
    scopes = {"POST": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Comment on an attempt, a bar of it, a time in its recording, or a note of a solo handed in",
        request=shapes.CommentIn,
        responses={201: shapes.CommentSerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        attempt, body = attempt_to_review(request.user, pk), self.valid(shapes.CommentIn, request)
        sent, place = body.pop("submission"), body.pop("note")
        note = _note(attempt, sent, place) if sent is not None else ""
        row = review.comment(attempt=attempt, by=request.user, note=note, **body)
        context = {"bars": bars_of_step(attempt.step)}
        return Response(shapes.CommentSerializer(row, context=context).data, status=status.HTTP_201_CREATED)


def _note(attempt: Attempt, sent: int, place: int) -> str:
    """The words of a note of a solo that was handed in with this attempt."""
    row = attempt.submissions.filter(pk=sent).select_related("solo__solo").first()
    words = note_named(row, place) if row else ""
    if not words:
        raise Unreadable(
            "There is no such note: send a submission of this attempt that is a solo, and one of its notes."
        )
    return words


class Overrides(Call):
    scopes = {"POST": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Set another mark beside the computed one, with a reason",
        request=shapes.OverrideIn,
        responses={201: shapes.OneAttemptSerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        attempt, body = attempt_to_review(request.user, pk), self.valid(shapes.OverrideIn, request)
        if not Mark.objects.filter(attempt=attempt, question=body["question"]).exists():
            raise Unreadable("This sheet has no such question.")
        try:
            review.override(attempt_id=attempt.pk, by=request.user, **body)
        except review.Stale as error:
            raise Conflict(STALE) from error
        return Response(attempt_body(request.user, pk), status=status.HTTP_201_CREATED)


class Decision(Call):
    scopes = {"POST": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Accept, return for another go, or undo either",
        request=shapes.DecisionIn,
        responses=shapes.OneAttemptSerializer,
    )
    def post(self, request: Request, pk: int) -> Response:
        attempt, body = attempt_to_review(request.user, pk), self.valid(shapes.DecisionIn, request)
        try:
            DECISIONS[body["decision"]](attempt_id=attempt.pk, by=request.user, version=body["version"])
        except review.Stale as error:
            raise Conflict(STALE) from error
        return Response(attempt_body(request.user, pk))


class SignOffs(Call):
    scopes = {"GET": TEACH, "POST": TEACH}

    @extend_schema(tags=["review"], summary="Sign-offs for the tune of this step", responses=SIGN_OFFS(many=True))
    def get(self, request: Request, pk: int) -> Response:
        step = get_object_or_404(steps_led(request.user), pk=pk)
        rows = sign_offs_led(request.user).filter(tune=step.assignment.tune_id, ensemble=step.assignment.ensemble_id)
        return page_of(request, rows.select_related("by", "player"), SIGN_OFFS, self)

    @extend_schema(
        tags=["review"],
        summary="Sign players off, in person",
        request=shapes.SignOffIn,
        responses={201: shapes.SignOffSerializer(many=True)},
    )
    def post(self, request: Request, pk: int) -> Response:
        step = get_object_or_404(steps_led(request.user), pk=pk)
        if step.about.how != IN_PERSON:
            raise Conflict("This step is not signed off in person.")
        body = self.valid(shapes.SignOffIn, request)
        allowed = set(read.players_of(step.assignment.ensemble).values_list("pk", flat=True))
        if not {p.pk for p in body["players"]} <= allowed:
            raise Unreadable("Only players of this ensemble can be signed off here.")
        try:
            rows = sign_off.sign_off(step=step, by=request.user, **body)
        except sign_off.NotOneself as error:
            raise Unreadable(str(error)) from error
        return Response(shapes.SignOffSerializer(rows, many=True).data, status=status.HTTP_201_CREATED)


class OneSignOff(Call):
    scopes = {"DELETE": TEACH}

    @extend_schema(tags=["review"], summary="Take a sign-off back; it stays on record", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        row = get_object_or_404(sign_offs_led(request.user), pk=pk)
        try:
            sign_off.take_back(sign_off_id=row.pk, by=request.user)
        except sign_off.NotOneself as error:
            raise Conflict(str(error)) from error
        return Response(status=status.HTTP_204_NO_CONTENT)
