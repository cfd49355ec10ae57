"""Questioning marks and readings, answering that; later dates and excuses of single players."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response

from api.errors import Conflict, Unreadable
from api.listed import listed
from api.paging import page_of
from api.scopes import TEACH, WORK_READ, WORK_WRITE
from api.serializers import questions as shapes
from api.views.base import Call
from assessments.access import (
    assignments_led,
    attempts_led,
    objections_led,
    own_attempts,
    reading_questions_led,
)
from assessments.models import Assignment, Leeway, Objection, ReadingQuestion
from assessments.selectors.ledger import players_of
from assessments.services import leeway as write_leeway
from assessments.services.assign import Stale
from assessments.services.objections import AskedAlready, answer_objection, question_mark, questionable
from assessments.services.readings import answer_reading, question_reading
from assessments.views.objections import row_of
from assessments.views.readings import read_as
from tunes import selectors
from tunes.harmony.charts.bar_count import bar_count
from tunes.models import ChartRevision
from tunes.study import ChartUnreadable, StudyChart, study_chart

LEEWAYS = listed(shapes.LeewaySerializer, "leeway")
MARK_QUESTIONS = listed(shapes.MarkQuestionSerializer, "mark_question")
READING_QUESTIONS = listed(shapes.ReadingQuestionSerializer, "reading_question")

FIRST = "Somebody else has answered this. Read it again."
ASKED = "This has been asked already and is not answered yet."


class AttemptQuestions(Call):
    scopes = {"GET": WORK_READ, "POST": WORK_WRITE}

    @extend_schema(
        tags=["work"],
        summary="What was questioned on an attempt, with the answers",
        responses=MARK_QUESTIONS(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        own, led = own_attempts(request.user).filter(pk=pk), attempts_led(request.user).filter(pk=pk)
        if not own.exists() and not led.exists():
            raise NotFound
        rows = Objection.objects.filter(attempt=pk).select_related("attempt__player", "answered_by")
        return page_of(request, rows, MARK_QUESTIONS, self)

    @extend_schema(
        tags=["work"],
        summary="Question a mark, or the reading it was marked by, once marks may be seen",
        request=shapes.MarkQuestionIn,
        responses={201: shapes.MarkQuestionSerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        attempt, body = get_object_or_404(own_attempts(request.user), pk=pk), self.valid(shapes.MarkQuestionIn, request)
        if not questionable(attempt):
            raise Conflict("There are no marks to question yet.")
        if not attempt.marks.filter(question=body["question"]).exists():
            raise Unreadable("That question is not on this sheet.")
        try:
            row = question_mark(attempt=attempt, **body)
        except AskedAlready as error:
            raise Conflict(ASKED) from error
        return Response(shapes.MarkQuestionSerializer(row).data, status=status.HTTP_201_CREATED)


class Questions(Call):
    scopes = {"GET": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Questions on marks that wait for an answer, the oldest first",
        responses=MARK_QUESTIONS(many=True),
    )
    def get(self, request: Request) -> Response:
        return page_of(request, objections_led(request.user).filter(answered=None), MARK_QUESTIONS, self)


class QuestionAnswer(Call):
    scopes = {"POST": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Answer a question on a mark",
        request=shapes.MarkAnswerIn,
        responses=shapes.MarkQuestionSerializer,
    )
    def post(self, request: Request, pk: int) -> Response:
        rows = objections_led(request.user).select_related("attempt__step__assignment__revision")
        found, body = get_object_or_404(rows, pk=pk), self.valid(shapes.MarkAnswerIn, request)
        row, accepts = row_of(found), body["outcome"] in ("here", "same")
        if accepts and not (row.mark.answer.strip() and row.points < 1):
            raise Conflict("There is no answer to accept: the field was blank, or it has full marks already.")
        try:
            answer_objection(
                objection=found,
                by=request.user,  # type: ignore[arg-type]
                outcome="accepted" if accepts else body["outcome"],
                answer=body["answer"],
                written=row.mark.answer,
                everywhere=body["outcome"] == "same",
            )
        except Stale as error:
            raise Conflict(FIRST) from error
        return Response(shapes.MarkQuestionSerializer(rows.get(pk=pk)).data)


class RevisionQuestions(Call):
    scopes = {"GET": WORK_READ, "POST": WORK_WRITE}

    @extend_schema(
        tags=["work"],
        summary="Your questions on the readings of a chart, and those that you may answer",
        responses=READING_QUESTIONS(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        revision, _ = self._read(request, pk)
        led = reading_questions_led(request.user).order_by().values("pk")
        rows = ReadingQuestion.objects.filter(Q(player=request.user.pk) | Q(pk__in=led), revision=revision)
        return page_of(request, rows.select_related("player", "answered_by"), READING_QUESTIONS, self)

    @extend_schema(
        tags=["work"],
        summary="Question how a chord is read",
        request=shapes.ReadingQuestionIn,
        responses={201: shapes.ReadingQuestionSerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        revision, study = self._read(request, pk)
        body = self.valid(shapes.ReadingQuestionIn, request)
        event = body["event"]
        if event >= len(study.events):
            raise Unreadable(f"This chart has no chord {event}: they are counted from 0 to {study.last_event}.")
        words = {"read_as": read_as(study, event), "bar": bar_count(study.chart).name_at(event)}
        try:
            row = question_reading(revision=revision, player=request.user, **words, **body)  # type: ignore[arg-type]
        except AskedAlready as error:
            raise Conflict(ASKED) from error
        return Response(shapes.ReadingQuestionSerializer(row).data, status=status.HTTP_201_CREATED)

    def _read(self, request: Request, pk: int) -> tuple[ChartRevision, StudyChart]:
        revision = get_object_or_404(selectors.revisions_for_study(), pk=pk)
        self.must_know_analysis(request, revision.version.tune_id)
        try:
            return revision, study_chart(revision)
        except ChartUnreadable as problem:
            raise Conflict(str(problem)) from problem


class ReadingQuestions(Call):
    scopes = {"GET": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Questions on readings that wait for an answer, the oldest first",
        responses=READING_QUESTIONS(many=True),
    )
    def get(self, request: Request) -> Response:
        rows = reading_questions_led(request.user).filter(answered=None)
        return page_of(request, rows, READING_QUESTIONS, self)


class ReadingAnswer(Call):
    scopes = {"POST": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Answer a question on a reading",
        request=shapes.ReadingAnswerIn,
        responses=shapes.ReadingQuestionSerializer,
    )
    def post(self, request: Request, pk: int) -> Response:
        rows = reading_questions_led(request.user)
        found, body = get_object_or_404(rows, pk=pk), self.valid(shapes.ReadingAnswerIn, request)
        try:
            answer_reading(question=found, by=request.user, **body)  # type: ignore[arg-type]
        except Stale as error:
            raise Conflict(FIRST) from error
        return Response(shapes.ReadingQuestionSerializer(rows.get(pk=pk)).data)


class Leeways(Call):
    scopes = {"GET": TEACH, "POST": TEACH}

    @extend_schema(
        tags=["review"],
        summary="Later dates and excuses of single players",
        responses=LEEWAYS(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        found = get_object_or_404(assignments_led(request.user), pk=pk)
        return page_of(request, _leeways(found), LEEWAYS, self)

    @extend_schema(
        tags=["review"],
        summary="Give one player a later date, or an excuse; the newest word counts",
        request=shapes.LeewayIn,
        responses={201: shapes.LeewaySerializer(many=True)},
    )
    def post(self, request: Request, pk: int) -> Response:
        found = get_object_or_404(assignments_led(request.user).prefetch_related("steps"), pk=pk)
        body = self.valid(shapes.LeewayIn, request)
        player = players_of(found.ensemble).filter(pk=body.pop("player")).first()
        if player is None:
            raise Unreadable("That is no player of this ensemble.")
        steps = _asked_steps(found, body.pop("steps", None))
        rows = write_leeway.give(steps=steps, player=player, by=request.user, **body)  # type: ignore[arg-type]
        made = _leeways(found).filter(player=player, step__in=[row.step_id for row in rows])
        return Response(shapes.LeewaySerializer(made, many=True).data, status=status.HTTP_201_CREATED)


def _leeways(found: Assignment) -> QuerySet[Leeway]:
    rows = Leeway.objects.filter(step__assignment=found).select_related("player", "by")
    return rows.order_by("player__name", "player", "step__position")


def _asked_steps(found: Any, ids: list[int] | None) -> list[Any]:
    """The steps of an assignment that are named, or all that are still asked."""
    steps = [step for step in found.steps.all() if (not step.closed if ids is None else step.pk in ids)]
    if ids is not None and len(steps) < len(set(ids)):
        raise Unreadable("“steps” names a step that is not of this assignment.")
    for step in steps:
        step.assignment = found
    return steps


class OneLeeway(Call):
    scopes = {"DELETE": TEACH}

    @extend_schema(tags=["review"], summary="Take a later date or an excuse back", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        rows = Leeway.objects.filter(step__assignment__in=assignments_led(request.user).order_by().values("pk"))
        row = get_object_or_404(rows.select_related("step__assignment"), pk=pk)
        write_leeway.take_back(assignment=row.step.assignment, leeway_id=row.pk)
        return Response(status=status.HTTP_204_NO_CONTENT)
