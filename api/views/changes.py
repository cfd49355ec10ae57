"""One feed of everything that changed, deletions included."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.exceptions import PermissionDenied, ValidationError
from rest_framework.response import Response

from api.changes import FED, PAUSE, ROUTES, kinds_of, look
from api.models import Change, ChangeState
from api.requests import Request
from api.scopes import CHANGES_READ
from api.serializers.changes import ChangesSerializer
from api.views.base import BIGGEST_ID, Call
from studio import access

MOST, USUAL = 1000, 500


class Changes(Call):
    scopes = {"GET": CHANGES_READ}
    throttle_scope = "heavy"

    @extend_schema(
        tags=["changes"],
        summary="What has changed, deletions included; for services and directors",
        description="Begin without `since`: everything that is there now comes, page by page while `more` is true. Keep `next` and send "
        "it as `since` the next time. An object stands in the feed once, at its last change. Kinds are those that the token's "
        "other permissions open: people and chairs with people:read; terms, ensembles, assignments and steps with work:read; "
        "tunes, recordings, versions, revisions, melodies, idioms, overrules, words on bars, shared solos, their notes, words and lines with "
        "tunes:read; attempts, leeways, questions and accepted answers with teach; sign-offs, evidence and plans with ledger:read. After an "
        "archive of the site was put back, begin anew.",
        parameters=[
            OpenApiParameter("since", str, description="`next` of the answer before"),
            OpenApiParameter("kind", str, enum=[kind.id for kind in FED], description="Only this kind"),
            OpenApiParameter("limit", int, description=f"How many at most, 1 to {MOST}; {USUAL} otherwise"),
        ],
        responses=ChangesSerializer,
    )
    def get(self, request: Request) -> Response:
        if not access.is_director(request.user):
            raise PermissionDenied("The feed is of the whole programme: for a service, or a director.")
        since, limit = _number(request, "since", 0, 0, BIGGEST_ID), _number(request, "limit", USUAL, 1, MOST)
        look(pause=PAUSE)
        end = ChangeState.objects.values_list("position", flat=True).get(pk=1)
        if since > end:
            raise ValidationError(
                {"since": ["This is no place of this feed; an archive may have been put back. Begin without since."]}
            )
        kinds = [kind for kind in kinds_of(request.auth.scopes) if request.query_params.get("kind", kind) == kind]
        rows = Change.objects.filter(kind__in=kinds, position__gt=since, position__lte=end)
        if not since:
            rows = rows.filter(gone=False)
        page = list(rows.order_by("position")[: limit + 1])
        more = len(page) > limit
        last = page[limit - 1].position if more else end
        body = {"results": [_said(row) for row in page[:limit]], "next": str(last), "more": more}
        return Response(ChangesSerializer(body).data)


def _said(row: Change) -> dict[str, Any]:
    route = "" if row.gone else ROUTES[row.kind]
    address = reverse(f"api:{route}", args=[row.object]) if route else ""
    return {"kind": row.kind, "id": row.object, "gone": row.gone, "changed": row.at, "address": address}


def _number(request: Request, name: str, usual: int, least: int, most: int) -> int:
    text = request.query_params.get(name, "")
    if not text:
        return usual
    if not (text.isascii() and text.isdigit() and len(text) < 20 and least <= int(text) <= most):
        raise ValidationError(
            {name: [f"Send a whole number from {least} to {most}." if name == "limit" else "Send `next` as it came."]}
        )
    return int(text)
