"""Whole programmes in one call: one JSON text a line, streamed in chunks, so that memory stays flat and nothing is paged."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from django.db.models import QuerySet
from django.http import StreamingHttpResponse
from django.utils.decorators import method_decorator
from django.views.decorators.gzip import gzip_page
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework.renderers import JSONRenderer

from api.attempts import mark_bodies
from api.requests import Request
from api.scopes import LEDGER_READ, TEACH
from api.serializers import ledger as ledger_shapes
from api.serializers import work as shapes
from api.views.base import Call, number
from api.views.ledger import cell_body
from assessments.access import attempts_led, players_led
from assessments.models import Answer, Attempt, Evidence
from assessments.selectors import ledger as read
from assessments.selectors.done import running
from studio.access import ensembles_led

NDJSON = "application/x-ndjson"
CHUNK = 200
ENSEMBLE = OpenApiParameter("ensemble", int, description="Only this ensemble; all that you lead otherwise")
RUNNING = OpenApiParameter("running", str, enum=["yes"], description="Only ensembles of terms that have not ended")
LINES = {(200, NDJSON): OpenApiResponse(OpenApiTypes.STR, "One JSON text a line")}


def _running(request: Request, prefix: str) -> dict[str, Any]:
    """A filter on the ensemble that `prefix` leads to, where the caller asks for running terms alone."""
    return running(prefix) if request.query_params.get("running") else {}


def lines(rows: Iterable[Any]) -> StreamingHttpResponse:
    render = JSONRenderer().render
    return StreamingHttpResponse((render(row) + b"\n" for row in rows), content_type=NDJSON)


def in_chunks(rows: QuerySet[Any]) -> Iterator[list[Any]]:
    """A queryset by its primary key, `CHUNK` rows a query: what is added meanwhile moves nothing."""
    last = 0
    while chunk := list(rows.filter(pk__gt=last).order_by("pk")[:CHUNK]):
        yield chunk
        last = chunk[-1].pk


@method_decorator(gzip_page, name="dispatch")
class BulkAttempts(Call):
    scopes = {"GET": TEACH}
    throttle_scope = "heavy"

    @extend_schema(
        tags=["bulk"],
        summary="All attempts of the ensembles you lead, with answers and marks",
        description="Attempts that are being written are not among them. Each line is an attempt as in the list, with "
        "`answers` and `marks` as in the attempt's own call. Gzip where the caller takes it.",
        parameters=[ENSEMBLE, RUNNING],
        responses=LINES,
    )
    def get(self, request: Request) -> StreamingHttpResponse:
        rows = attempts_led(request.user).exclude(status=Attempt.Status.OPEN)
        if (only := number(request, "ensemble")) is not None:
            rows = rows.filter(step__assignment__ensemble=only)
        rows = rows.filter(**_running(request, "step__assignment__ensemble__"))
        shape = shapes.AttemptSerializer(), shapes.AnswerSerializer(), shapes.MarkSerializer()
        return lines(body for chunk in in_chunks(rows) for body in _attempts(chunk, *shape))


def _attempts(chunk: Sequence[Attempt], attempts: Any, answered: Any, marked: Any) -> Iterator[dict[str, Any]]:
    """Bodies of one chunk: three queries, however many there are. The shapes are made once: to make them costs more than to
    fill them."""
    answers: dict[int, list[Answer]] = defaultdict(list)
    for row in Answer.objects.filter(attempt__in=[a.pk for a in chunk]):
        answers[row.attempt_id].append(row)
    marks = mark_bodies(chunk)
    for attempt in chunk:
        yield {
            **attempts.to_representation(attempt),
            "ensemble": attempt.step.assignment.ensemble_id,
            "tune": attempt.step.assignment.tune_id,
            "points": attempt.points,
            "out_of": attempt.out_of,
            "answers": [answered.to_representation(row) for row in answers[attempt.pk]],
            "marks": [marked.to_representation(row) for row in marks[attempt.pk]],
        }


@method_decorator(gzip_page, name="dispatch")
class BulkEvidence(Call):
    scopes = {"GET": LEDGER_READ}
    throttle_scope = "heavy"

    @extend_schema(
        tags=["bulk"],
        summary="All evidence about the players of the ensembles you lead",
        parameters=[ENSEMBLE, RUNNING],
        responses=LINES,
    )
    def get(self, request: Request) -> StreamingHttpResponse:
        rows = Evidence.objects.filter(player__in=players_led(request.user)).select_related("player", "tune", "by")
        if (only := number(request, "ensemble")) is not None:
            rows = rows.filter(ensemble=only)
        rows = rows.filter(**_running(request, "ensemble__"))
        shape = ledger_shapes.EvidenceSerializer()
        return lines(_fact(row, shape) for chunk in in_chunks(rows) for row in chunk)


def _fact(row: Evidence, shape: Any) -> dict[str, Any]:
    return {
        **shape.to_representation(row),
        "player": {"id": row.player_id, "name": row.player.name},
        "tune": row.tune_id,
        "tune_title": row.tune.title,
        "ensemble": row.ensemble_id,
        "attempt": row.attempt_id,
    }


@method_decorator(gzip_page, name="dispatch")
class BulkLedger(Call):
    scopes = {"GET": LEDGER_READ}
    throttle_scope = "heavy"

    @extend_schema(
        tags=["bulk"],
        summary="The ledger of the ensembles you lead: a line for each player and tune",
        parameters=[ENSEMBLE, RUNNING],
        responses=LINES,
    )
    def get(self, request: Request) -> StreamingHttpResponse:
        led = ensembles_led(request.user).order_by("pk")
        if (only := number(request, "ensemble")) is not None:
            led = led.filter(pk=only)
        return lines(_cells(led.filter(**_running(request, ""))))


def _cells(led: Iterable[Any]) -> Iterator[dict[str, Any]]:
    asked, shape = read.requirements(), ledger_shapes.LedgerCellSerializer()
    for ensemble in led:
        tunes = list(read.tunes_of(ensemble))
        for players in in_chunks(read.players_of(ensemble)):
            for row in read.grid(players, tunes, asked):
                who = {"id": row.player.pk, "name": row.player.name}
                for tune, standing in row.cells:
                    cell = shape.to_representation(cell_body(tune, standing))
                    yield {"ensemble": ensemble.pk, "player": who, **cell}
