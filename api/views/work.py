"""Assignments and a player's own attempts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import QuerySet
from django.http import HttpResponseBase
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.exceptions import NotFound, ValidationError
from rest_framework.parsers import MultiPartParser
from rest_framework.response import Response

from api.attempts import attempt_body, keep_closed, shown_ids
from api.errors import Conflict, Unreadable
from api.listed import listed
from api.paging import page_of
from api.parsers import BoundedJSONParser
from api.requests import Request
from api.scopes import TEACH, WORK_READ, WORK_WRITE
from api.serializers import work as shapes
from api.views.base import Call, number
from assessments.access import (
    assignments_led,
    assignments_played,
    attempts_led,
    own_attempts,
    steps_played,
    submission_for,
)
from assessments.kinds import HAND_IN, KINDS, LOG, QUIZ, SOLO_KINDS
from assessments.models import Assignment, Attempt, Step
from assessments.selectors.by_ear import shows_chords
from assessments.selectors.desk import hearings
from assessments.selectors.solos import solos_to_hand_in
from assessments.services import assign as assigning
from assessments.services import hand_in as sending
from assessments.services.answer import Save, save_answers
from assessments.services.dues import past_dues
from assessments.views import files
from drills.takes.selectors import of_tune
from studio.access import leads
from tunes.access import refuse_held_chords

ASSIGNMENTS = listed(shapes.AssignmentSerializer, "assignment")
ATTEMPTS = listed(shapes.AttemptSerializer, "attempt")

ENSEMBLE = OpenApiParameter("ensemble", int, description="Only this ensemble")
LATER_STEP = "This step asks for something else."


def visible(request: Request) -> QuerySet[Assignment]:
    """Assignments of the ensembles that the caller leads or plays in."""
    user = request.user
    rows = Assignment.objects.filter(pk__in=assignments_led(user).order_by().values("pk")) | Assignment.objects.filter(
        pk__in=assignments_played(user).order_by().values("pk")
    )
    return rows.select_related("ensemble__term", "tune").prefetch_related("steps")


def _refuse_past(meant: bool, dues: list[tuple[str, Any]], before: Sequence[Any] = ()) -> None:
    if not meant and (said := past_dues(dues, before=before)):
        raise Unreadable(f'{said} Send another date, or "past": true if it is meant.')


class Assignments(Call):
    scopes = {"GET": WORK_READ, "POST": TEACH}

    @extend_schema(
        tags=["work"],
        summary="Assignments of your ensembles, the newest first",
        parameters=[ENSEMBLE],
        responses=ASSIGNMENTS(many=True),
    )
    def get(self, request: Request) -> Response:
        rows = visible(request)
        if (ensemble := number(request, "ensemble")) is not None:
            rows = rows.filter(ensemble=ensemble)
        return page_of(request, rows, ASSIGNMENTS, self)

    @extend_schema(
        tags=["work"],
        summary="Assign a tune to an ensemble you lead",
        request=shapes.AssignmentIn,
        responses={201: shapes.AssignmentSerializer},
    )
    def post(self, request: Request) -> Response:
        body = self.valid(shapes.AssignmentIn, request)
        if not leads(request.user, body["ensemble"]):
            raise NotFound("No ensemble of yours has this id.")
        steps = [assigning.StepPlan(**dict(step)) for step in body.pop("steps")]
        again = body["token"] is not None and Assignment.objects.filter(token=body["token"]).exists()
        _refuse_past(body.pop("past") or again, [(KINDS[plan.kind].name, plan.due) for plan in steps])
        try:
            made = assigning.assign(by=request.user, steps=steps, **body)
        except assigning.CannotAsk as error:
            raise Unreadable(str(error)) from error
        if not leads(request.user, made.ensemble_id):
            raise Conflict("This token of yours was used before.")
        return Response(
            shapes.AssignmentSerializer(get_object_or_404(visible(request), pk=made.pk)).data,
            status=status.HTTP_201_CREATED,
        )


class OneAssignment(Call):
    scopes = {"GET": WORK_READ, "PATCH": TEACH}

    @extend_schema(tags=["work"], summary="One assignment", responses=shapes.AssignmentSerializer)
    def get(self, request: Request, pk: int) -> Response:
        return Response(shapes.AssignmentSerializer(get_object_or_404(visible(request), pk=pk)).data)

    @extend_schema(
        tags=["work"],
        summary="Change texts, dates, attempts or release, or add steps",
        request=shapes.AssignmentChange,
        responses=shapes.AssignmentSerializer,
        description="Questions already issued stay as they are.",
    )
    def patch(self, request: Request, pk: int) -> Response:
        found = get_object_or_404(assignments_led(request.user), pk=pk)
        fields = self.valid(shapes.AssignmentChange, request)
        version, dues, closed = fields.pop("version"), fields.pop("dues", {}), fields.pop("closed_steps", None)
        more = [assigning.StepPlan(**dict(step)) for step in fields.pop("steps", ())]
        steps = {str(step.pk): step for step in found.steps.all()}
        if foreign := set(dues) - set(steps):
            raise ValidationError({f"dues.{name}": ["This assignment has no such step."] for name in sorted(foreign)})
        if set(closed or ()) - {step.pk for step in steps.values()}:
            raise ValidationError({"closed_steps": ["This assignment has no such step."]})
        asked = [(steps[name].name, due) for name, due in dues.items()]
        asked += [(KINDS[plan.kind].name, plan.due) for plan in more]
        _refuse_past(fields.pop("past", False), asked, [step.due for step in steps.values()])
        try:
            assigning.edit_assignment(
                assignment_id=found.pk,
                version=version,
                fields=fields,
                more=more,
                closed=closed,
                dues={steps[name].pk: due for name, due in dues.items()},
            )
        except assigning.Stale as error:
            raise Conflict("Someone else changed this assignment. Read it again, then send your change.") from error
        except assigning.CannotAsk as error:
            raise Unreadable(str(error)) from error
        return Response(shapes.AssignmentSerializer(get_object_or_404(visible(request), pk=pk)).data)


class Release(Call):
    scopes = {"PUT": TEACH, "DELETE": TEACH}

    @extend_schema(
        tags=["work"],
        summary="Show marks and answers to everyone who has handed in",
        request=None,
        responses={204: None},
    )
    def put(self, request: Request, pk: int) -> Response:
        assigning.release_answers(assignment=get_object_or_404(assignments_led(request.user), pk=pk))
        return Response(status=status.HTTP_204_NO_CONTENT)

    @extend_schema(tags=["work"], summary="Withhold them again", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        assigning.withhold_answers(assignment=get_object_or_404(assignments_led(request.user), pk=pk))
        return Response(status=status.HTTP_204_NO_CONTENT)


class Closed(Call):
    scopes = {"PUT": TEACH, "DELETE": TEACH}

    @extend_schema(
        tags=["work"],
        summary="Ask for nothing of it any more; what was handed in stays",
        request=None,
        responses={204: None},
    )
    def put(self, request: Request, pk: int) -> Response:
        assigning.close_assignment(assignment_id=get_object_or_404(assignments_led(request.user), pk=pk).pk)
        return Response(status=status.HTTP_204_NO_CONTENT)

    @extend_schema(tags=["work"], summary="Ask for it again", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        assigning.ask_again(assignment_id=get_object_or_404(assignments_led(request.user), pk=pk).pk)
        return Response(status=status.HTTP_204_NO_CONTENT)


class Attempts(Call):
    scopes = {"GET": WORK_READ}

    @extend_schema(
        tags=["work"],
        summary="Attempts: your own, and those of the ensembles you lead",
        parameters=[
            OpenApiParameter("assignment", int),
            OpenApiParameter("player", int),
            OpenApiParameter("status", str, enum=list(Attempt.Status.values)),
        ],
        responses=ATTEMPTS(many=True),
    )
    def get(self, request: Request) -> Response:
        rows = own_attempts(request.user) | attempts_led(request.user)
        rows = (
            Attempt.objects.filter(pk__in=rows.order_by().values("pk"))
            .select_related("step__assignment", "player")
            .order_by("-pk")
        )
        for name, column in (("assignment", "step__assignment"), ("player", "player")):
            if (value := number(request, name)) is not None:
                rows = rows.filter(**{column: value})
        if (state := request.query_params.get("status", "")) in Attempt.Status.values:
            rows = rows.filter(status=state)
        return page_of(request, rows, ATTEMPTS, self, shown=lambda page: shown_ids(request.user, page))


class StartAttempt(Call):
    scopes = {"POST": WORK_WRITE}

    @extend_schema(
        tags=["work"],
        summary="Begin a quiz, or go on with the attempt being written",
        request=None,
        responses=shapes.OneAttemptSerializer,
    )
    def post(self, request: Request, pk: int) -> Response:
        step = _step(request, pk, QUIZ)
        if shows_chords(step.kind, out=False):
            refuse_held_chords(request.user, step.assignment.tune_id)
        try:
            attempt = sending.start_attempt(step=step, player=request.user)
        except sending.NoMoreGoes as error:
            raise Conflict("All attempts are used up. Your instructor can return one for another go.") from error
        return Response(attempt_body(request.user, attempt.pk))


class OneAttempt(Call):
    scopes = {"GET": WORK_READ}

    @extend_schema(
        tags=["work"],
        summary="One attempt: questions, answers, and marks once they may be seen",
        responses=shapes.OneAttemptSerializer,
    )
    def get(self, request: Request, pk: int) -> Response:
        return Response(attempt_body(request.user, pk))


class Answers(Call):
    scopes = {"PUT": WORK_WRITE}

    @extend_schema(
        tags=["work"],
        summary="Save answers of your attempt",
        request=shapes.SavesIn,
        responses=shapes.SavesOut,
        description="Safe to send again: the same client and sequence is taken once.",
    )
    def put(self, request: Request, pk: int) -> Response:
        get_object_or_404(own_attempts(request.user).filter(step__quiz__isnull=False), pk=pk)
        body = self.valid(shapes.SavesIn, request)
        saves = [Save(**{**dict(s), "text": s["text"].replace("\x00", "")}) for s in body["saves"]]
        _, results = save_answers(attempt_id=pk, player_id=request.user.pk, client=body["client"], saves=saves)
        return Response(shapes.SavesOut({"results": results}).data)


class HandIn(Call):
    scopes = {"POST": WORK_WRITE}

    @extend_schema(
        tags=["work"],
        summary="Hand in your attempt; it is marked at once. Twice changes nothing.",
        request=None,
        responses=shapes.OneAttemptSerializer,
    )
    def post(self, request: Request, pk: int) -> Response:
        keep_closed(request.user, get_object_or_404(own_attempts(request.user).filter(step__quiz__isnull=False), pk=pk))
        sending.hand_in(attempt_id=pk, player_id=request.user.pk)
        return Response(attempt_body(request.user, pk))


class Send(Call):
    scopes = {"POST": WORK_WRITE}

    parser_classes = (BoundedJSONParser, MultiPartParser)

    @extend_schema(
        tags=["work"],
        summary="Hand in sound, a link, a note, a solo or a take",
        request=shapes.SubmissionIn,
        responses={201: shapes.OneAttemptSerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        step = _step(request, pk, HAND_IN)
        solos = solos_to_hand_in(request.user, step.assignment.tune_id) if step.kind in SOLO_KINDS else None
        body = self.valid(
            shapes.SubmissionIn,
            request,
            context={"solos": solos, "takes": of_tune(request.user, step.assignment.tune_id)},
        )
        try:
            attempt = sending.send(step=step, player=request.user, **body)
        except sending.NoMoreGoes as error:
            raise Conflict("Everything that can be handed in here has been.") from error
        return Response(attempt_body(request.user, attempt.pk), status=status.HTTP_201_CREATED)


class HandedInFile(Call):
    scopes = {"GET": WORK_READ}

    @extend_schema(
        tags=["work"],
        summary="The sound of a hand-in: for its sender and who leads the ensemble",
        responses={(200, "audio/*"): OpenApiTypes.BINARY, (206, "audio/*"): OpenApiTypes.BINARY, 416: None},
        description="Parts by Range (RFC 9110, section 14).",
    )
    def get(self, request: Request, pk: int) -> HttpResponseBase:
        return files.respond(request, submission_for(request.user, pk))


class Listenings(Call):
    scopes = {"GET": WORK_READ, "POST": WORK_WRITE}

    @extend_schema(
        tags=["work"], summary="What you have heard of the step's tune", responses=shapes.HearingSerializer(many=True)
    )
    def get(self, request: Request, pk: int) -> Response:
        step = _step(request, pk, LOG)
        return page_of(request, hearings(request.user, step), shapes.HearingSerializer, self)

    @extend_schema(
        tags=["work"],
        summary="Log one hearing of a recording",
        request=shapes.ListeningIn,
        responses={201: shapes.HearingSerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        step, body = _step(request, pk, LOG), self.valid(shapes.ListeningIn, request)
        recording = body["recording"]
        if recording is not None and recording.tune_id != step.assignment.tune_id:
            raise Unreadable("That recording is of another tune.")
        heard = str(recording) if recording is not None else body["heard"]
        row = sending.log_hearing(step=step, player=request.user, **{**body, "heard": heard})
        return Response(shapes.HearingSerializer(row).data, status=status.HTTP_201_CREATED)


def _step(request: Request, pk: int, how: str) -> Step:
    step: Step = get_object_or_404(steps_played(request.user), pk=pk)
    if step.about.how != how:
        raise Conflict(LATER_STEP)
    return step
