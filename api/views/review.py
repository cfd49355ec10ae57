"""What is next for a player, what waits for an instructor, and the tables both read."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.exceptions import NotFound
from rest_framework.response import Response

from api.errors import Conflict, Unreadable
from api.listed import listed
from api.paging import Pages, page_of
from api.requests import Request
from api.scopes import TEACH, WORK_READ
from api.serializers import review as shapes
from api.serializers.work import AttemptSerializer
from api.views.base import Call, number
from assessments.access import assignments_led, assignments_played, steps_led
from assessments.kinds import KINDS, QUIZ, quiz_kinds
from assessments.models import Quiz
from assessments.selectors import desk, review
from assessments.selectors.quiz import bars_of_step
from drills.marking import Context, echo
from drills.marking_rules import marking_rules
from studio.models import Membership
from tunes.harmony.pitch.spelling import Interval, Key, SpellingError

ATTEMPTS = listed(AttemptSerializer, "attempt")

STATES = [state for state, _ in review.STATES if state != "missing"]
NARROW = [
    OpenApiParameter("ensemble", int),
    OpenApiParameter("assignment", int),
    OpenApiParameter("kind", str, enum=list(KINDS)),
    OpenApiParameter("player", str, description="Part of a name"),
]


def narrowed(request: Request) -> dict[str, Any]:
    """The filters of the queue; what is no id or kind is refused or narrows nothing, as on the page."""
    kind = request.query_params.get("kind", "")
    return {
        "ensemble": number(request, "ensemble"),
        "assignment": number(request, "assignment"),
        "kind": kind if kind in KINDS else "",
        "player": words(request, "player", 80),
    }


def words(request: Request, name: str, longest: int) -> str:
    return request.query_params.get(name, "").replace("\x00", "").strip()[:longest]


class Desk(Call):
    scopes = {"GET": WORK_READ}

    @extend_schema(
        tags=["work"],
        summary="What is next: your steps that are not done, the nearest due first",
        responses=shapes.StepStateSerializer(many=True),
    )
    def get(self, request: Request) -> Response:
        pages = Pages()
        steps = pages.paginate_queryset(desk.undone_steps(request.user), request, view=self) or []
        states = desk.states_of(request.user, steps)
        return pages.get_paginated_response(shapes.StepStateSerializer(states, many=True).data)


class States(Call):
    scopes = {"GET": WORK_READ}

    @extend_schema(
        tags=["work"],
        summary="How far you are with each step of an assignment",
        responses=shapes.StepStateSerializer(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        found = get_object_or_404(assignments_played(request.user).prefetch_related("steps"), pk=pk)
        _, ((_, states),) = desk.desk_states(request.user, [found])
        return page_of(request, states, shapes.StepStateSerializer, self)


class Queue(Call):
    scopes = {"GET": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Attempts of the ensembles you lead, in the order of review",
        parameters=[OpenApiParameter("state", str, enum=STATES, description="waiting unless said"), *NARROW],
        responses=ATTEMPTS(many=True),
    )
    def get(self, request: Request) -> Response:
        state = request.query_params.get("state", "waiting")
        if state not in STATES:
            raise Unreadable(f"“state” is one of: {', '.join(STATES)}. Who is missing is a call of its own.")
        return page_of(request, review.queue(request.user, state=state, **narrowed(request)), ATTEMPTS, self)


class Missing(Call):
    scopes = {"GET": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Who has handed in nothing though it was due",
        parameters=NARROW,
        responses=shapes.MissingSerializer(many=True),
    )
    def get(self, request: Request) -> Response:
        pages = Pages()
        rows: Any = pages.paginate_queryset(review.missing(request.user, **narrowed(request)), request, view=self) or []
        for row in rows:
            row.step_name = review.step_label(row.step_kind, row.step_title)
        return pages.get_paginated_response(shapes.MissingSerializer(rows, many=True).data)


class EnsembleSheet(Call):
    scopes = {"GET": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Which questions were missed by how many, and with which answers",
        parameters=[OpenApiParameter("order", str, enum=["missed"], description="The most missed first")],
        responses=shapes.EnsembleQuestionSerializer(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        step: Any = get_object_or_404(steps_led(request.user), pk=pk)
        if step.about.how != QUIZ:
            raise Conflict("This step asks no questions.")
        questions = Quiz.objects.filter(step=step).values_list("questions", flat=True).get()
        rows = review.ensemble_sheet(step, questions, bars_of_step(step))
        if request.query_params.get("order") == "missed":
            rows = sorted(rows, key=lambda row: -row.missed)
        return page_of(request, rows, shapes.EnsembleQuestionSerializer, self)


class Progress(Call):
    scopes = {"GET": TEACH}

    @extend_schema(
        tags=["review"],
        summary="How far the ensemble is with each step of an assignment you gave",
        responses=shapes.ProgressSerializer(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        found = get_object_or_404(assignments_led(request.user).prefetch_related("steps"), pk=pk)
        steps = list(found.steps.all())
        for step in steps:
            step.assignment = found
        players = Membership.objects.filter(ensemble=found.ensemble_id, role=Membership.Role.PLAYER).count()
        return page_of(request, review.step_counts(steps, players), shapes.ProgressSerializer, self)


class MarkingRules(Call):
    scopes = {"GET": WORK_READ}

    @extend_schema(
        tags=["work"],
        summary="The marking table: every way an answer can earn points",
        responses=shapes.MarkingRuleSerializer(many=True),
    )
    def get(self, request: Request) -> Response:
        return page_of(request, list(marking_rules().values()), shapes.MarkingRuleSerializer, self)


class Echo(Call):
    scopes = {"GET": WORK_READ}

    @extend_schema(
        tags=["work"],
        summary="How an answer is understood, never whether it is right",
        responses=shapes.EchoSerializer,
        parameters=[
            OpenApiParameter("kind", str, enum=list(quiz_kinds()), description="function unless said"),
            OpenApiParameter("q", str, description="The answer as typed"),
            OpenApiParameter("key", str, description="Concert key in force: the home key, or one named since"),
            OpenApiParameter("written", str, description="The attempt's interval; P1 unless said"),
            OpenApiParameter("part", str),
            OpenApiParameter("metre", str),
            OpenApiParameter("chord", str, description="The chord asked about, in the pitch of the answer"),
            OpenApiParameter("quality", str, description="0 where the number is enough"),
        ],
    )
    def get(self, request: Request) -> Response:
        kind = request.query_params.get("kind", "function")
        if kind not in quiz_kinds():
            raise NotFound("No such kind of question is asked.")
        written, key = words(request, "written", 8) or "P1", words(request, "key", 20)
        try:
            context = Context(
                key=Key.parse(key).text if key else "",
                written=Interval.parse(written).name,
                part=words(request, "part", 12),
                metre=words(request, "metre", 8),
                chord=words(request, "chord", 40),
                quality=words(request, "quality", 4) != "0",
            )
        except SpellingError as error:
            raise Unreadable("Send “key” as “Eb major” and “written” as an interval: P1, M2, M6.") from error
        said = echo(kind, request.query_params.get("q", "")[:400], context)
        return Response(shapes.EchoSerializer({"text": said.text, "ok": said.ok}).data)
